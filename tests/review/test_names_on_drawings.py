"""Names and numbers on curves and paths: none over another, none on the point it names."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from rich.style import Style

from analysis.review.usual import spread
from tests.review.driving import SIZES, line_with, press, review, shown
from tests.review.invented_sessions import pitches, record, stored
from tui.review.help import PARTS
from tui.widgets.axes import ticks
from tui.widgets.braille import Canvas
from tui.widgets.name_places import NamePlaces, cells_of


def text_of(canvas: Canvas) -> list[str]:
    return [strip.text for strip in canvas.strips(lambda name: Style())]


def test_names_at_one_place_stand_apart() -> None:
    canvas = Canvas(40, 8)
    canvas.over(0, 0, "Forward, home +", "ink")
    names = NamePlaces(canvas, np.zeros((8, 40), dtype=bool))
    for text in ("push-off", "45", "43", "landing"):
        assert names.put(text, "ink", 17, 0, before=True)
    words = [w for line in text_of(canvas) for w in re.split(r"\s{2,}| (?=\d|l|p)", line) if w]
    assert sorted(w.strip() for w in words) == [
        "43",
        "45",
        "Forward, home +",
        "landing",
        "push-off",
    ]
    # The place itself stays free.
    assert text_of(canvas)[0][17] == " "


def test_a_name_keeps_off_a_line_where_there_is_room() -> None:
    canvas = Canvas(30, 6)
    line = np.zeros((24, 60), dtype=bool)
    line[8:12] = True  # The whole of row 2.
    canvas.dots(line, "drive")
    assert NamePlaces(canvas, cells_of(line)).put("landing", "lead", 15, 2, before=False)
    rows = text_of(canvas)
    assert "landing" in rows[1] + rows[3]
    assert "landing" not in rows[2]


def test_a_name_without_room_is_left_out() -> None:
    canvas = Canvas(10, 2)
    names = NamePlaces(canvas, np.zeros((2, 10), dtype=bool), (1, 1))
    assert not names.put("45", "ink", 3, 1, before=True)
    assert not names.put("much too long", "ink", 3, 1, before=True)
    assert text_of(canvas) == [" " * 10] * 2


@pytest.mark.parametrize("y_range", [(-95.0, 20.0), (-105.0, 3.0), (0.0, 230.0), (-3.0, 1.05)])
@pytest.mark.parametrize("rows", [3, 5, 9, 20])
def test_every_scale_has_two_numbers(y_range: tuple[float, float], rows: int) -> None:
    found = ticks(y_range, rows)
    assert len(found) >= 2
    assert all(y_range[0] <= value <= y_range[1] for value in found)


@pytest.mark.parametrize("size", SIZES)
async def test_each_component_has_a_scale_and_its_title(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    session = stored(tmp_path / "tuesday", pitches(12))
    app = review(session)
    for number, each in app.desk.now.traces.items():
        # The landing leg brakes by 45 to 55 % of body weight.
        lead = np.column_stack([-0.25 * each.lead[:, 2], 0.0 * each.lead[:, 1], each.lead[:, 2]])
        app.desk.now.traces = {
            **app.desk.now.traces,
            number: replace(each, lead=lead),
        }
    async with app.run_test(size=size) as pilot:
        await press(pilot, "down", "space", "down", "space", "down", "3")
        main = app.main
        assert main is not None
        rows = main.traces.text.splitlines()
        titles = ("Resultant", "Forward, home +", "Vertical", "Sideways, first base +")
        starts = [i for i, row in enumerate(rows) if row[6:].startswith(titles)]
        ends = [*starts[1:], next(i for i, row in enumerate(rows) if "0.0 s" in row)]
        assert len(starts) >= 3
        for start, end in zip(starts, ends, strict=True):
            # A component that is zero throughout has a scale too.
            assert len([r for r in rows[start:end] if r[:6].strip()]) >= 2
            title = next(t for t in titles if rows[start][6:].startswith(t))
            # Nothing is written against the title.
            assert not rows[start][6 + len(title)].isalnum()
            for row in rows[start + 1 : end]:
                assert not re.search(r"push-off\d|\dpush-off|landing\d|\dlanding", row)


async def test_paths_of_pitches_laid_over_are_drawn_with_their_numbers(tmp_path: Path) -> None:
    records = [record(n) for n in (1, 45, 43)]
    app = review(stored(tmp_path / "tuesday", records))
    moved = {}
    for number, each in app.desk.now.traces.items():
        there = np.array([0.0, {1: 0.0, 45: 0.25, 43: -0.3}[number]])
        moved[number] = replace(
            each, drive_cop=each.drive_cop - there, lead_cop=each.lead_cop + there
        )
    app.desk.now.take_curves(moved, ())
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "4")
        alone = shown(app)
        app.desk.mark(45)
        app.desk.mark(43)
        app.redraw()
        await press(pilot)
        text = shown(app)
        assert "Centre of pressure, pitch 1; faint 45, 43" in text
        drawing = "\n".join(line[53:] for line in text.splitlines()[3:])
        for label in ("45", "43"):
            assert len(re.findall(rf"\b{label}\b", drawing)) >= 2
        dots = [sum("⠀" < c <= "⣿" for c in picture) for picture in (alone, text)]
        assert dots[1] > dots[0] + 4
        # Close up they are drawn too, and the picture is wide enough for all.
        await press(pilot, "z")
        close = "\n".join(line[53:] for line in shown(app).splitlines()[3:])
        assert "45" in close
        assert "43" in close


async def test_the_cross_hides_no_sign(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", [record(1)]))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "4", "shift+right", "shift+right")
        assert app.desk.moment_s == 0.05
        drawing = "\n".join(shown(app).splitlines()[:-9])
        assert "■✚" in drawing


def test_the_spread_is_the_scaled_median_absolute_deviation() -> None:
    # By hand: median of 1, 2, 3, 4, 100 is 3; deviations 2, 1, 0, 1, 97; their median 1.
    assert spread([1.0, 2.0, None, 3.0, 4.0, 100.0]) == pytest.approx(1.4826)
    assert spread([1.0, 2.0, None]) is None


async def test_metrics_show_the_spread_and_a_difference_of_what_is_shown(tmp_path: Path) -> None:
    pushes = [130.4, 137.6, 141.0]
    app = review(stored(tmp_path / "t", [record(i + 1, push=p) for i, p in enumerate(pushes)]))
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot)
        main = app.main
        assert main is not None
        heads = [c.head for c in main.metrics.columns]
        assert heads[-3:] == ["median", "spread", "differs"]
        row = next(e for e in main.metrics.entries if e.key == "drive_peak_bw")
        # Deviations from 137.6: 7.2, 0, 3.4; 3.4 times 1.4826 is 5.04. 130 less 138 is -8.
        assert row.cells[1:] == ("130", "%BW", "138", "5", "-8")
        row = next(e for e in main.metrics.entries if e.key == "stride_m")
        assert row.cells[-1] == "0.00"
    words = dict(PARTS)["THE METRICS"]
    assert "this one among them" in words
    assert "the one looked at among them" in dict(PARTS)["THE CURVES"]


async def test_the_table_beside_the_curves_has_five_metrics(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot)
        assert "5 chosen columns have no room here" in shown(app)
        # The values of all four components still have theirs.
        assert len(line_with(app, " pitch 1 ").split()[-8:]) == 8
