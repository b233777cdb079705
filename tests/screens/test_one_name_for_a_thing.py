"""A thing has one name wherever it is read: keys and directions."""

from __future__ import annotations

import pytest

from stream.checks.plan import TITLES, Step
from stream.snapshot import CheckNow, CheckStepNow, StepState
from tui.check_steps import words_of
from tui.screens.help import key_name
from tui.units import System, Units


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("escape", "Esc"),
        ("esc", "Esc"),
        ("enter", "Enter"),
        ("home", "Home"),
        ("shift+left", "Shift+←"),
        ("ctrl+p", "Ctrl+P"),
        ("↑ ↓", "↑ ↓"),
        ("space", "space"),
        ("+", "+"),
        ("p", "p"),
    ],
)
def test_a_key_is_written_as_on_the_pages(key: str, name: str) -> None:
    assert key_name(key) == name


@pytest.mark.parametrize(("y", "base"), [(0.2, "first"), (-0.2, "third")])
def test_the_spot_is_said_in_the_words_of_the_dialog_and_the_plan(y: float, base: str) -> None:
    steps = [CheckStepNow(TITLES[Step.MASS], StepState.NOW)]
    now = CheckNow(False, 1, steps, "", 0.0, None, [], 20.0, (1.2, y))
    text = words_of(now, Units(System.SI))
    assert f"0.20 m towards {base} base from its middle" in text
