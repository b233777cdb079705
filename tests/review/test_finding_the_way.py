"""Getting about in the review: time cursor, pitch by number, marks and names of files."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from textual.widgets import Input

from tests.review.driving import SIZES, line_with, press, review, shown, told
from tests.review.invented_sessions import EVENTS_S, pitches, record, stored
from tui.screens.help import HelpScreen


@pytest.mark.parametrize("size", SIZES)
async def test_the_arrows_move_the_time_cursor_beside_a_long_table(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    app = review(stored(tmp_path / "tuesday", pitches(90)))
    async with app.run_test(size=size) as pilot:
        await press(pilot, "3", "right", "right")
        assert app.desk.moment_s == pytest.approx(0.010)
        assert "At 0.010 s" in shown(app)
        await press(pilot, "left", "left", "left")
        assert app.desk.moment_s == pytest.approx(-0.005)
        # Its own keys the table keeps, where it is in sight.
        await press(pilot, "down" if size[0] > 80 else "right_square_bracket")
        assert app.desk.now.chosen == 2


async def test_the_cursor_names_the_event_it_stops_at(tmp_path: Path) -> None:
    times = {**EVENTS_S, "drive_toe_off": 0.0543, "landing_peak": 0.0568}
    app = review(stored(tmp_path / "tuesday", [record(1, events_s=times)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "3", "shift+right", "shift+right")
        line = line_with(app, "At 0.054 s")
        assert "toe-off" in line
        assert "landing peak" not in line
        await press(pilot, "shift+right")
        line = line_with(app, "At 0.057 s")
        assert "landing peak" in line
        assert "toe-off" not in line


async def test_events_of_one_moment_are_both_named(tmp_path: Path) -> None:
    times = {**EVENTS_S, "drive_toe_off": 0.05}
    app = review(stored(tmp_path / "tuesday", [record(1, events_s=times)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "3", "shift+right", "shift+right")
        line = line_with(app, "At 0.050 s")
        assert "landing peak" in line
        assert "toe-off" in line


async def test_no_event_is_named_away_from_all(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "3", "right", "right")
        assert "At 0.010 s ·" in " ".join(line_with(app, "At 0.010 s").split())


async def test_a_pitch_is_found_by_its_number(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches(90)))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "number_sign", "8", "5", "enter")
        assert app.desk.now.chosen == 85
        assert "▶    85 P03" in shown(app)
        await press(pilot, "number_sign", "9", "1", "enter")
        assert "There is no pitch 91." in shown(app)
        await press(pilot, "escape", "p", *"P01", "enter", "number_sign", "8", "5", "enter")
        assert "Pitch 85 is not among those selected" in shown(app)


async def test_a_pitch_with_a_note_has_a_mark(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1, note="fell off"), record(2)]))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        assert " *   1 P01" in shown(app)
        assert "     2 P01" in shown(app)
        await press(pilot, "space")
        assert "+*   1 P01" in shown(app)
        await press(pilot, "question_mark")
        assert isinstance(app.screen, HelpScreen)
        assert any("* with a note" in text for _, text in app.screen._parts)


async def test_the_file_of_curves_names_its_pitch(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1), record(2)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "down", "w", *"curves of", "enter")
        assert app.screen.query_one(Input).value == "tuesday-pitch-2-curves.csv"
        await press(pilot, "escape", "y", *"curves of", "enter")
        rows = list(csv.DictReader(io.StringIO(app.clipboard)))
        assert {r["pitch"] for r in rows} == {"2"}


async def test_a_void_pitch_is_said_to_be_left_out_of_means_only(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "v", "enter")
        await app.workers.wait_for_complete()
        await press(pilot)
        assert any("left out of means and comparisons" in text for text in told(app))
