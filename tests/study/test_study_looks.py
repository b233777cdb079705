"""Pictures of the study bench: a question, its answer, where to write it (invented data)."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.screens.pictures import Compare, at_sizes, seen, stands
from tests.study.test_study_screen import answered, pitches
from tui.study.app import StudyApp

__all__ = ["pitches"]


async def read(pilot: Pilot[None]) -> None:
    assert isinstance(pilot.app, StudyApp)
    await answered(pilot, pilot.app)
    await stands(pilot, "120 rows")


async def answer(pilot: Pilot[None]) -> None:
    await read(pilot)
    await pilot.press("ctrl+r")
    assert isinstance(pilot.app, StudyApp)
    await answered(pilot, pilot.app)


@pytest.mark.parametrize(
    ("begin", "keys", "words"),
    [
        (read, (), ("120 rows", "Question")),
        (answer, (), ("Within a pitcher", "within")),
        (answer, ("ctrl+s",), ("Enter: write",)),
    ],
    ids=["asked", "answered", "written"],
)
@at_sizes
def test_study(
    pitches: Path,
    snap_compare: Compare,
    size: tuple[int, int],
    begin: object,
    keys: tuple[str, ...],
    words: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The answer names the command that asks the same: its length must not hang on the folder's.
    monkeypatch.chdir(pitches.parent)
    before = seen(*words, keys=keys, begin=begin)  # type: ignore[arg-type]
    assert snap_compare(StudyApp([Path(pitches.name)]), terminal_size=size, run_before=before)
