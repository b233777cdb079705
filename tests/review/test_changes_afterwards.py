"""Void, note, speed, another pitcher and undo on a stored session: one line in its log each."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest
from textual.widgets import Input

from analysis.review.changing import ChangeRefused, change
from analysis.sessions.stored import read_session
from stream.actions import Note, Void
from stream.monitor.presence import claim, runtime_folder
from stream.sinks import jsonl
from tests.review.driving import line_with, press, review, told, until
from tests.review.invented_sessions import SOURCE, pitches, stored


def logged(folder: Path) -> list[dict[str, object]]:
    path = folder / "log.jsonl"
    lines = path.read_text().splitlines() if path.exists() else []
    return [json.loads(line) for line in lines]


@pytest.fixture(autouse=True)
def runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))


async def test_void_and_count_again(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    app = review(stored(folder, pitches()))
    measured_lines = (folder / "pitches.jsonl").read_bytes()
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "down", "v", "down", "enter")
        await until(pilot, lambda: len(logged(folder)) == 1, "the void is logged")
        await until(pilot, lambda: app.desk.now.pitches[1].void, "the void is shown")
        assert "✖ void" in line_with(app, " 2 P01")
        entry = logged(folder)[0]
        assert (entry["what"], entry["action"], entry["number"]) == ("action", "void", 2)
        assert entry["t_ns"] == 42
        assert "void" in read_session(folder).pitches[1].flags
        assert told(app)[-1].endswith("u takes it back.")
        app._clock = lambda: 43
        await press(pilot, "u")
        await until(pilot, lambda: not app.desk.now.pitches[1].void, "it counts again")
        assert logged(folder)[1]["t_ns"] == 43
        assert [e["action"] for e in logged(folder)] == ["void", "restore"]
        assert read_session(folder).pitches[1].flags == ()
        assert (folder / "pitches.jsonl").read_bytes() == measured_lines


async def test_note_speed_and_another_pitcher(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    app = review(stored(folder, pitches()))
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot, "n", *"first one", "enter", "s")
        app.screen.query_one(Input).value = "40.5"
        await press(pilot, "enter", "a", *"P02", "enter")
        await until(pilot, lambda: len(logged(folder)) == 3, "all three are logged")
        now = read_session(folder).pitches[0]
        assert (now.note, now.speed_mps, now.pitcher) == ("first one", 40.5, "P02")
        assert "speed_typed" in now.flags
        await until(pilot, lambda: app.desk.now.pitches[0].record.pitcher == "P02", "shown")
        # P02 throws with the other hand and there is no recording to measure it from again.
        assert now.metrics["drive_side_bw"] is None
        assert "not measured: no recording left" in line_with(app, "Push-off sideways")
        await press(pilot, "u")
        await until(pilot, lambda: app.desk.now.pitches[0].record.pitcher == "P01", "back")
        await press(pilot, "u")
        await until(pilot, lambda: app.desk.now.pitches[0].record.speed_mps != 40.5, "back")
        assert read_session(folder).pitches[0].note == "first one"
        assert "speed_typed" not in read_session(folder).pitches[0].flags, "the one received"


async def test_while_a_monitor_runs_the_review_changes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    app = review(stored(folder, pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        with claim(runtime_folder(folder)) as path:
            path.write_bytes(
                b'{"v":1,"pid":1,"view":"a","ask":"b","operate":"c","feed":"d","started_ns":1}'
            )
            await press(pilot, "v", "down", "enter")
            await until(pilot, lambda: len(told(app)) > 0, "refused")
        assert "A monitor is running for this session" in told(app)[-1]
        assert logged(folder) == []


async def test_a_pitch_out_of_sight_is_not_changed(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    app = review(stored(folder, pitches()), stored(tmp_path / "friday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        for key in ("v", "n", "u"):
            app.clear_notifications()
            await press(pilot, key)
            assert told(app) == ["A pitch is changed where it is seen: press 1 for the table."]
    assert logged(folder) == []


def test_a_disk_that_does_not_take_the_line_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = stored(tmp_path / "tuesday", pitches())

    def full(fd: int, data: bytes, offset: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(jsonl, "write_at", full)
    with pytest.raises(ChangeRefused, match="could not be written"):
        change(session, Note(source=SOURCE, t_ns=1, number=1, text="x"))


def test_changes_come_in_their_order(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", pitches())
    for text in ("one", "two", "three"):
        session = change(session, Note(source=SOURCE, t_ns=1, number=1, text=text))
    session = change(session, Void(source=SOURCE, t_ns=1, number=1, reason="warm-up"))
    assert session.pitches[0].note == "warm-up"
    again = read_session(tmp_path / "tuesday")
    assert (session.pitches, session.log) == (again.pitches, again.log)
    assert len(again.log) == 4
