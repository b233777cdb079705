"""Days side by side: in the order in which they were thrown, and no copy taken for a day."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from analysis.sessions.stored import read_session
from tests.review.driving import opened_by, press, review, shown
from tests.review.invented_sessions import pitches, stored
from tui.commands.main import main
from tui.review.days import as_cells
from tui.review.head import session_line
from tui.units import System, Units


def test_a_replayed_session_stands_where_its_recording_was_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = tmp_path / "made.mcap"
    assert main(["simulate", "--to", str(made), "--pitches", "2", "--quick", "--seed", "5"]) == 0
    assert main(["replay", str(made), "--session", str(tmp_path / "replayed")]) == 0
    replayed = read_session(tmp_path / "replayed")
    # Between the invented recording and the making of its folder.
    between = f"{replayed.began.year}-12-31T15:00:00+00:00"
    assert replayed.about.created > between
    stored(tmp_path / "between", pitches(), created=between)
    folders = [str(tmp_path / "between"), str(tmp_path / "replayed")]
    desk = opened_by(monkeypatch, *folders).desk
    assert [s.name for s in desk.sittings] == ["replayed", "between"]
    units = Units(System.SI)
    desk.at = 0
    assert session_line(desk, units, 120)[0][0] == " SESSION 1 of 2: replayed, invented "
    desk.at = 1
    assert session_line(desk, units, 120)[0][0] == " SESSION 2 of 2: between "
    head, *rows = as_cells(desk)
    began = {row[head.index("session")]: row[head.index("began")] for row in rows}
    assert began["replayed"] == replayed.began.isoformat(timespec="seconds")
    assert began["between"] == between


async def test_copies_of_one_session_are_said_to_be(tmp_path: Path) -> None:
    first = stored(tmp_path / "tuesday", pitches())
    copy = read_session(Path(shutil.copytree(tmp_path / "tuesday", tmp_path / "again")))
    other = stored(tmp_path / "friday", pitches(seed=2))
    app = review(first, copy, other)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "5")
        assert "! tuesday and again are copies of one session" in shown(app)
    app = review(first, other)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "5")
        assert "copies" not in shown(app)
