"""What a set-up check says does not contradict itself and is torn nowhere; invented benches."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from stream.checks.registry import run
from stream.checks.running import as_found
from stream.checks.statistics import signed
from tests.checks.bench import Bench
from tests.checks.planted import FAULTS
from tests.checks.test_check_command import SPOT_TEXT, _check, _record
from tui.check_words import found_lines
from tui.units import System, Units


def sense() -> Bench:
    """A bench on which every channel has the wrong sign."""
    return next(f for f in FAULTS if f.name == "sense").plant(Bench("two-plates", seed=1))


def test_a_known_mass_is_weighed_as_if_the_signs_were_right_and_that_is_said() -> None:
    found = as_found(run(sense().evidence()))
    status = {f.check: f.status for f in found}
    assert (status["signs"], status["weight"]) == ("fail", "pass")
    weight = next(f for f in found if f.check == "weight")
    assert weight.say.startswith("The known mass of 20 kg reads 20 kg")
    assert weight.say.endswith("once the signs are right, see signs.")
    lines = found_lines(found, Units(System.US), 200)
    text = " ".join(part for line in lines for part, _ in line)
    assert "known mass, once the signs are right, reads 44.1 lb" in text


def test_with_right_signs_it_reads_what_it_reads() -> None:
    found = as_found(run(Bench("two-plates", seed=1).evidence()))
    weight = next(f for f in found if f.check == "weight")
    assert "once" not in weight.say


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(-0.04, 1, "0.0"), (0.04, 1, "0.0"), (-0.4, 0, "0"), (-0.06, 1, "-0.1"), (3.0, 0, "+3")],
)
def test_nought_has_no_sign(value: float, digits: int, text: str) -> None:
    assert signed(value, digits) == text


@pytest.mark.parametrize("seed", range(1, 9))
def test_no_check_says_minus_nought(seed: int) -> None:
    said = " ".join(f.say for f in as_found(run(Bench("two-plates", seed=seed).evidence())))
    assert not re.search(r"(?<![\w.])-0(\.0+)?(?![\d.]*[1-9])", said)


def test_a_terminal_tears_no_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = _record(tmp_path / "bad.mcap", sense())
    arguments = ("--from", recording, "--mass-kg", 20, "--at", SPOT_TEXT)
    _check(*arguments)
    whole = capsys.readouterr().out
    assert max(map(len, whole.splitlines())) > 100  # a file has each check in one line
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False)
    _check(*arguments)
    wrapped = capsys.readouterr().out
    assert max(map(len, wrapped.splitlines())) <= 80
    assert wrapped.split() == whole.split()
