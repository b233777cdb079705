"""From a recording to its report: replayed on the screen, reviewed, written from where one is.

Real commands on a pseudo-terminal; of the screens nothing but keys and what stands
on them is used. What was written is compared with the session's own file.
"""

from __future__ import annotations

import csv
import json
import re
from functools import partial
from pathlib import Path

import pytest

from tests.journeys.large import stands_large
from tests.screens.pseudo_terminal import ENTER, RIGHT, Terminal, own_runtime, terminal
from tui.commands.main import main

__all__ = ["own_runtime"]
pytestmark = pytest.mark.usefixtures("own_runtime")

PITCHES = 3
MPH_MPS = 0.44704  # NIST SP 811 (2008), appendix B.8
ROW = r"\b{} P01 +(\d+) +(\d+) +(\d+\.\d)\b"
SIZE = (100, 30)


@pytest.fixture
def session(tmp_path: Path) -> Path:
    """A session of invented pitches, made from a recording as a user makes it."""
    recording, folder = tmp_path / "made.mcap", tmp_path / "tuesday"
    made = ["--pitches", f"{PITCHES}", "--pitchers", "1", "--quick", "--seed", "3", "--no-traffic"]
    assert main(["simulate", "--to", str(recording), *made]) == 0
    assert main(["replay", str(recording), "--session", str(folder)]) == 0
    return folder


def stored(folder: Path) -> list[dict[str, object]]:
    """The session's own lines, as they were measured."""
    lines = (folder / "pitches.jsonl").read_text().splitlines()
    return [line for line in map(json.loads, lines) if "number" in line]


def numbers(line: dict[str, object], per: float = MPH_MPS) -> tuple[str, str, str]:
    """Push-off and landing, % BW, and ball speed in ``per`` m/s, as a person reads them."""
    metrics, speed = line["metrics"], line["speed_mps"]
    assert isinstance(metrics, dict)
    assert isinstance(speed, float)
    push, land = metrics["drive_peak_bw"], metrics["landing_peak_bw"]
    return f"{push:.0f}", f"{land:.0f}", f"{speed / per:.1f}"


def test_replay_to_report(session: Path, tmp_path: Path) -> None:
    measured = stored(session)
    assert [line["number"] for line in measured] == [1, 2, 3]
    replayed(session, measured)
    page, table = tmp_path / "coach.html", tmp_path / "lab.csv"
    reviewed(session, measured, page, table)
    assert stored(session) == measured, "what was measured is never changed"

    rows = re.findall(r"<tr><td>(\d)</td><td>[0-9:]{8}</td>(.*?)</tr>", page.read_text())
    assert len(rows) == PITCHES
    for (number, row), line in zip(rows, measured, strict=True):
        push, land, _ = numbers(line)
        cells = [re.sub("<.*?>", "", cell) for cell in row.split("</td>")]
        speed = f"{line['speed_mps']:.2f}"
        assert cells[:4] == ["P01", push, land, speed], number
        remarks = {"2": "foot off the plates", "3": "new grip"}
        assert cells[7:9] == ["left out" if number == "2" else "· few", remarks.get(number, "")]
    with table.open(newline="") as file:
        exported = list(csv.DictReader(file))
    assert [row["void"] for row in exported] == ["false", "true", "false"]
    assert [row["note"] for row in exported] == ["", "foot off the plates", "new grip"]
    assert [row["flags"] for row in exported] == ["", "void", ""]
    for given, line in zip(exported, measured, strict=True):
        assert float(given["speed_mps"]) == line["speed_mps"]
        metrics = line["metrics"]
        assert isinstance(metrics, dict)
        assert {key: float(given[key]) for key in metrics} == metrics


def replayed(session: Path, measured: list[dict[str, object]]) -> None:
    """Look at the session as it was: pause, pitch by pitch, a jump; then leave."""
    with terminal("replay", str(session), "--screen", size=(120, 40)) as term:
        term.until_shown("REPLAY, NOT LIVE", "playing · 1x speed")
        term.press(" ")
        term.until_shown("■ REPLAY, NOT LIVE", "paused")
        for line in measured[:2]:
            term.press(RIGHT)
            number = line["number"]
            term.until_shown(f"paused · at pitch {number}", f"PITCH {number}")
            term.press(" ")  # the ball speed may come a moment after the pitch
            seen = read(term, ROW.format(number))
            term.press(" ")
            term.until_shown("■ REPLAY, NOT LIVE", "paused")
            assert seen == numbers(line)
            assert all(stands_large(term.lines, text) for text in seen)
        term.press("j")
        term.until_shown("Go to which time?")
        term.press("0:30", ENTER)
        term.until_shown("0:30 of 1:1", "PITCH 1")
        term.until_true(lambda text: "PITCH 2" not in text, "pitch 2 is still to come")
        term.press("q")
        assert term.ended() == 0


def reviewed(session: Path, measured: list[dict[str, object]], page: Path, table: Path) -> None:
    """Void pitch 2, note pitch 3, take a wrong speed back; write report and table; leave."""
    with terminal("review", str(session), size=SIZE) as term:
        for line in measured:
            assert read(term, ROW.format(line["number"])) == numbers(line)
        go_to(term, 2)
        term.press("v")
        term.until_shown("Void pitch 2: why?")
        term.press("foot off", ENTER)
        term.until_true(lambda text: re.search(r"\b2 P01 [^·=~≠]*✖ void", text) is not None, "void")
        go_to(term, 3)
        term.press("n")
        term.until_shown("Note on pitch 3")
        term.press("new grip", ENTER)
        term.until_shown("Note of pitch 3 written")
        term.press("s")
        term.until_shown("Ball speed of pitch 3, mph")
        term.press("12", ENTER)
        read(term, ROW.format(3).replace(r"(\d+\.\d)", r"(12\.0)"))
        term.press("u")
        speed = numbers(measured[2])[2]
        read(term, ROW.format(3).replace(r"(\d+\.\d)", f"({speed})"))
        for what, path in (("report", page), ("as CSV", table)):
            term.press("w")
            term.until_shown("Write what?")
            term.press(what, ENTER)
            term.until_shown("Enter: write it", "tuesday")
            term.press(str(path), ENTER)
            term.until_true(partial(_there, path), f"{path.name} is written")
        term.press("q")
        assert term.ended() == 0


def go_to(term: Terminal, number: int) -> None:
    """Go to a pitch by its number."""
    term.press("#")
    term.until_shown("Go to which pitch?")
    term.press(f"{number}", ENTER)
    term.until_true(lambda text: "Go to which pitch?" not in text, "the dialog is gone")


def read(term: Terminal, pattern: str) -> tuple[str, ...]:
    """Return what ``pattern`` finds on the screen, as soon as it stands there."""
    term.until_true(lambda text: re.search(pattern, text) is not None, pattern)
    found = re.search(pattern, term.text)
    assert found is not None
    return found.groups()


def _there(path: Path, _: str) -> bool:
    return path.exists()
