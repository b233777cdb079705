"""The review, driven by keys and mouse and looked at."""

from __future__ import annotations

import csv
import io
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from textual.widgets import Input

from stream.metrics import METRICS
from tests.review.driving import SIZES, line_with, press, review, shown, told
from tests.review.invented_sessions import (
    curves,
    pitches,
    record,
    step_off,
    stored,
    without,
)
from tui.review.app import ReviewApp
from tui.review.screen import ReviewScreen
from tui.screens.help import HelpScreen
from tui.widgets.deck_plan import RUBBER_SIGN


def numbers_in_table(app: ReviewApp) -> list[str | None]:
    main = app.main
    assert main is not None
    return [entry.key for entry in main.pitches.entries]


def main_screen(app: ReviewApp) -> ReviewScreen:
    assert app.main is not None
    return app.main


@pytest.mark.parametrize("size", SIZES)
async def test_the_table_is_there_without_any_curve(tmp_path: Path, size: tuple[int, int]) -> None:
    session = stored(tmp_path / "tuesday", [*pitches(), step_off(2)])
    app = review(session, curves=False)
    async with app.run_test(size=size) as pilot:
        await press(pilot)
        text = shown(app)
        for part in ("SESSION tuesday", "2031-05-06", "12 pitches", "P03", "not counted: step-off"):
            assert part in text
        push = session.pitches[4].metrics["drive_peak_bw"]
        assert f"{push:.0f}" in line_with(app, " 5 P02")
        await press(pilot, "3")
        assert "holds no recording" in shown(app)


@pytest.mark.parametrize("size", SIZES)
async def test_every_pane_at_every_size(tmp_path: Path, size: tuple[int, int]) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=size) as pilot:
        await press(pilot, "2")
        assert "PUSH-OFF" in shown(app)
        assert "Definition" not in shown(app)
        await press(pilot, "3")
        text = shown(app)
        for part in ("Resultant", "Forward, home +", "Vertical", "Sideways", "push-off", "landing"):
            assert part in text
        assert "mean of 4" in text
        await press(pilot, "4")
        text = shown(app)
        for part in ("Centre of pressure, pitch 1", "landing foot", RUBBER_SIGN, "■", "●", "✚"):
            assert part in text
        # The drawing takes the whole room: its scale stands right above the legend.
        below = pairwise(text.splitlines())
        assert any("├─" in line and " push-off foot" in after for line, after in below)


@pytest.mark.parametrize("size", SIZES)
async def test_the_keys_below_fit_and_all_are_in_the_help(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=size) as pilot:
        await press(pilot)
        assert shown(app).splitlines()[-1].rstrip().endswith("q Quit")
        await press(pilot, "question_mark")
        assert isinstance(app.screen, HelpScreen)
        assert "KEYS" in shown(app)
        keys = " ".join(k for k, _ in app.screen._keys)
        for key in ("space", "shift+right", "w", "y", "u"):
            assert key in keys


async def test_the_definition_of_the_metric_under_the_cursor(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "down", "down")
        third = METRICS[2]
        assert third.key == "drive_forward_bw"
        assert third.key in shown(app)
        assert third.definition.split(",")[0] in shown(app)
        await press(pilot, "end")
        assert "Lead-leg forward force returns from braking to zero" in shown(app)


async def test_not_measured_says_so_and_why(tmp_path: Path) -> None:
    holed = without(record(1), "stride_height", "height_unknown")
    app = review(stored(tmp_path / "tuesday", [holed]))
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot, "2")
        line = line_with(app, "Stride / height")
        assert "not measured: height not on the roster" in line
        assert " 0" not in line.split("not measured")[1]
        assert "The roster does not give the pitcher's height" in shown(app)


async def test_estimates_are_marked_and_explained(tmp_path: Path) -> None:
    estimate = record(1, estimated=("landing_peak_bw",))
    app = review(stored(tmp_path / "tuesday", [estimate], layout="four-corner"))
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot)
        assert "≈215" in line_with(app, " 1 P01")
        main = main_screen(app)
        app.desk.metric = "landing_peak_bw"
        main.redraw()
        await press(pilot)
        assert "estimate: rests on how the load is shared" in shown(app)


async def test_pitches_are_selected_by_pitcher_and_by_void(tmp_path: Path) -> None:
    records = pitches()
    records[1] = record(2, "P01", flags=("void",), note="warm-up")
    app = review(stored(tmp_path / "tuesday", [*records, step_off(3)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "p", *"P02", "enter")
        assert numbers_in_table(app) == ["5", "6", "7", "8"]
        assert "4 of 12: P02" in shown(app)
        assert app.desk.now.chosen == 5
        await press(pilot, "p", *"everybody", "enter", "f", *"void", "down", "enter")
        assert numbers_in_table(app) == ["2"]
        assert "✖ void" in shown(app)
        await press(pilot, "f", *"counted", "enter")
        assert "2" not in numbers_in_table(app)


async def test_a_selection_without_any_pitch_says_what_to_do(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "f", *"with a note", "enter")
        assert "No pitch is selected." in shown(app)
        assert "p: whose pitches" in shown(app)


async def test_a_click_on_a_heading_orders_and_the_next_turns_it_round(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", pitches())
    by_push = sorted(session.pitches, key=lambda p: p.metrics["drive_peak_bw"] or 0.0)
    rising = [str(p.number) for p in by_push]
    app = review(session)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot)
        column = shown(app).splitlines()[2].index("push")
        await pilot.click("#pitches", offset=(column, 0))
        await press(pilot)
        assert numbers_in_table(app) == rising[::-1]
        assert "push▼" in shown(app)
        await pilot.click("#pitches", offset=(column, 0))
        await press(pilot)
        assert numbers_in_table(app) == rising


async def test_other_columns(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        assert " ball" in shown(app).splitlines()[2]
        await press(pilot, "k")
        assert "✓  3  Ball speed, m/s" in shown(app)
        assert "       Push-off peak, N" in shown(app)
        # The first of the list is the ball speed; it goes, and the next one comes last.
        await press(pilot, "space", "down", "space", "enter")
        assert app.desk.columns[-1] == "drive_peak_n"
        assert "speed_mps" not in app.desk.columns
        assert " ball" not in shown(app).splitlines()[2]


async def test_values_at_the_time_cursor(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1, push=160.0)]))
    async with app.run_test(size=(120, 40)) as pilot:
        # Foot contact is 0.1 s after the peak of a triangle of 0.5 s: 0.8 of 160 %.
        await press(pilot, "3")
        assert line_with(app, " pitch 1 ").split()[-8:][:2] == ["128", "0"]
        # Two samples on: 0.110 s after the peak, and 0.2 of the landing's 215 %.
        await press(pilot, "right", "right")
        assert "At 0.010 s" in shown(app)
        assert line_with(app, " pitch 1 ").split()[-8:][:2] == ["125", "43"]
        await press(pilot, "shift+left", "shift+left")
        assert "At -0.100 s, push-off peak" in shown(app)
        assert line_with(app, " pitch 1 ").split()[-8:][:2] == ["160", "0"]


async def test_the_mouse_puts_the_time_cursor(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot)
        stack = main_screen(app).traces.stack
        assert stack is not None
        await pilot.mouse_down("#traces", offset=(6, 10))
        await press(pilot)
        width = main_screen(app).traces.size.width - 6
        first = stack.time_range[0]
        step = (stack.time_range[1] - first) / width
        assert app.desk.moment_s == pytest.approx(first + step / 2)


async def test_in_newtons_and_one_component(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1, push=160.0)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "m", "c", "shift+left")
        assert "Resultant, N" in shown(app)
        assert "Vertical" not in shown(app)
        assert line_with(app, " pitch 1 ").split()[-2:] == ["1440", "0"]


async def test_chosen_pitches_lie_over_the_curves(tmp_path: Path) -> None:
    records = [record(1, push=160.0), record(2, push=180.0), record(3, push=150.0)]
    app = review(stored(tmp_path / "tuesday", records))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "down", "space", "up", "shift+left")
        assert line_with(app, "laid over: 2")
        assert "+    2 P01" in shown(app)
        assert line_with(app, " pitch 2 ").split()[-8:][0] == "180"
        assert line_with(app, " mean of 3 ").split()[-8:][0] == "163"
        # Sample SD of 160, 180, 150 by hand: sqrt((3.33^2 + 16.67^2 + 13.33^2) / 2) = 15.3
        assert line_with(app, " SD  ").split()[-8:][0] == "15"
        await press(pilot, "x")
        assert "laid over" not in shown(app)


async def test_the_band_leaves_void_pitches_and_other_pitchers_out(tmp_path: Path) -> None:
    records = [record(n, push=160.0) for n in (1, 2, 3)]
    records += [record(4, push=300.0, flags=("void",)), record(5, "P02", push=300.0)]
    app = review(stored(tmp_path / "tuesday", records))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "shift+left")
        assert line_with(app, " mean of 3 ").split()[-8:][0] == "160"


async def test_feet_are_where_the_pressure_was(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "4", *["right"] * 6)
        # At 0.03 s: 1.33 of 1.36 s into the push-off foot's 0.2 m, a tenth of the landing's 0.1 m.
        assert "-0.05, 0.20 m" in shown(app)
        assert "1.61, -0.10 m" in shown(app)
        await press(pilot, *["right"] * 10)
        assert "carries too little" in shown(app)


async def test_two_days_side_by_side(tmp_path: Path) -> None:
    first = stored(tmp_path / "tuesday", pitches(21, seed=1))
    second = stored(tmp_path / "friday", pitches(21, seed=2, more=20.0), created="2031-05-09T15:00")
    app = review(first, second)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "5")
        line = next(x for x in shown(app).splitlines() if x.startswith("▶"))
        pushes = [
            np.median([p.metrics["drive_peak_bw"] for p in s.pitches if p.pitcher == "P01"])
            for s in (first, second)
        ]
        for push in pushes:
            assert f" 7 {push:>6.0f}" in line
        assert f"+{pushes[1] - pushes[0]:.0f} (" in line
        text = shown(app)
        for part in ("tuesday", "friday", "P03", "Bonett", "minus the first"):
            assert part in text
        await press(pilot, "1")
        assert "all 21 pitches" in shown(app)
        await press(pilot, "full_stop")
        assert "SESSION 2 of 2: friday" in shown(app)


async def test_days_that_were_measured_otherwise_are_said_to_be(tmp_path: Path) -> None:
    first = stored(tmp_path / "tuesday", pitches())
    second = stored(tmp_path / "friday", pitches(), layout="tiled")
    app = review(first, second)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        assert "Not the same mound's layout" in shown(app)


async def test_one_session_alone_has_no_days(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        assert "name more folders" in shown(app)


async def test_a_session_without_a_pitch(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "empty", []))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        assert "This session has no pitch." in shown(app)
        await press(pilot, "2", "3", "4", "v", "space", "right", "shift+right")
        assert told(app) == ["There is no pitch to change: none is selected."]


async def test_the_table_as_a_file(tmp_path: Path) -> None:
    records = [without(record(1, push=160.25), "drive_forward_bw", "feed_gap"), record(2)]
    records[1] = record(2, note="=HYPERLINK(1)")
    app = review(stored(tmp_path / "tuesday", records))
    target = tmp_path / "out.csv"
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "w", "enter")
        app.screen.query_one(Input).value = str(target)
        await press(pilot, "enter")
        rows = list(csv.DictReader(io.StringIO(target.read_text())))
        assert [r["number"] for r in rows] == ["1", "2"]
        assert rows[0]["drive_peak_bw"] == "160.25"
        assert rows[0]["drive_forward_bw"] == ""
        assert rows[0]["flags"] == "feed_gap"
        assert rows[1]["note"] == "'=HYPERLINK(1)"
        assert target.stat().st_mode & 0o077 == 0
        # What is there is not written over.
        before = target.read_bytes()
        await press(pilot, "w", "enter")
        app.screen.query_one(Input).value = str(target)
        await press(pilot, "enter")
        assert "There is a file of that name" in shown(app)
        assert target.read_bytes() == before


async def test_all_values_to_the_clipboard(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1, push=160.25)]))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "y", "down", "enter")
        rows = list(csv.DictReader(io.StringIO(app.clipboard)))
        values = {r["key"]: r["value"] for r in rows}
        assert values["drive_peak_bw"] == "160.25"
        assert values["brake_end_s"] == "0.3"
        assert {m.key for m in METRICS} <= set(values)


async def test_the_drawn_curves_as_cells(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", [record(1)])
    app = review(session)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "y", "down", "down", "enter")
        rows = list(csv.DictReader(io.StringIO(app.clipboard)))
        given = curves(session)[1]
        assert len(rows) == len(given.time_s)
        peak = max(float(r["drive_vertical_bw"]) for r in rows)
        assert peak == pytest.approx(160.0)


async def test_text_from_outside_is_only_text(tmp_path: Path) -> None:
    nasty = "[red]x[/red] \x1b[31m\u202eabc"
    app = review(stored(tmp_path / "tuesday", [record(1, "[b]P[/b]", note=nasty)]))
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot)
        text = shown(app)
        assert "[red]x[/red]" in text
        assert "\x1b" not in text
        assert "\u202e" not in text


async def test_light_and_dark_and_units(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot)
        dark = app.theme
        assert "m/s" in shown(app)
        await press(pilot, "l", "t")
        assert app.theme != dark
        assert "mph" in shown(app)


async def test_every_command_is_in_the_palette(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "ctrl+p", *"component", "enter")
        await press(pilot, "enter")
        assert app.desk.component is not None
