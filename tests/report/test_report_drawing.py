"""The report's drawings and page parts by themselves."""

from __future__ import annotations

import math
import re
import unicodedata
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from analysis import page
from analysis.mean_curve import BAND_FROM, mean_and_sd
from analysis.report.drawing import Panel, Range, around, drawing, ticks
from analysis.report.numbers import written
from analysis.sessions.series import quantity

ROOT = Path(__file__).parents[2]
FINITE = st.floats(-1e6, 1e6)


@given(FINITE, st.floats(1e-3, 1e6))
def test_ticks_are_few_round_and_inside(low: float, width: float) -> None:
    assume(width > 1e-6 * abs(low))
    span = Range(low, low + width)
    made = ticks(span)
    assert 2 <= len(made) <= 7
    assert (made >= low - 1e-6 * width).all()
    assert (made <= low + width + 1e-6 * width).all()
    step = float(np.diff(made).mean())
    assert f"{step:.6e}"[:8] in ("1.000000", "2.000000", "5.000000")


@given(st.lists(st.one_of(FINITE, st.just(float("nan"))), max_size=30))
def test_a_range_holds_its_values(values: list[float]) -> None:
    made = around(np.array(values), least=5.0)
    known = [v for v in values if not math.isnan(v)]
    assert made.high > made.low
    assert all(made.low <= v <= made.high for v in known)


def test_mean_and_band_are_of_the_pitches_and_times_that_are_taken() -> None:
    random = np.random.default_rng(3)  # invented data
    values = random.normal(100.0, 10.0, (8, 5))
    values[:3, 1] = np.nan
    rows = np.array([False] * 3 + [True] * 5)
    times = np.array([True, True, False, True, True])
    mean, sd = mean_and_sd(values, rows, times)
    for column in (0, 1, 3, 4):
        assert mean[column] == pytest.approx(values[3:, column].mean())
        assert sd[column] == pytest.approx(values[3:, column].std(ddof=1))
    assert np.isnan(mean[2])
    assert np.isnan(sd[2])


def test_the_guide_says_from_how_many_pitches_there_is_a_band() -> None:
    """It said five, and bands of three and four were drawn."""
    guide = (ROOT / "docs" / "session-report.md").read_text(encoding="utf-8")
    said = re.search(r"band of one SD from (\w+) pitches on", guide)
    assert said is not None
    assert said[1] == {3: "three", 4: "four", 5: "five"}[BAND_FROM]


def test_a_line_breaks_where_a_value_is_missing_and_up_is_up() -> None:
    panel = Panel(0.0, 200.0, 100.0, Range(0.0, 4.0), Range(0.0, 1.0), "t", "x")
    panel.line(np.arange(5.0), np.array([0.0, 1.0, np.nan, 0.5, 0.25]))
    svg = drawing(200.0, 100.0, [panel])
    (path,) = re.findall(r'<path d="(M[^"]*L[^"]*)" fill="none"', svg)
    first, second = path.split("M")[1:]
    (x0, y0), (x1, y1) = (map(float, point.split()) for point in first.split("L"))
    assert x1 > x0
    assert y1 < y0  # SVG counts downwards
    assert second.count("L") == 1
    assert "NaN" not in svg
    assert "nan" not in svg


@given(st.text())
def test_no_text_is_markup_or_unseen(words: str) -> None:
    made = page.text(words)
    assert not set(made) & set("<>\"'")
    assert all(unicodedata.category(c) not in ("Cc", "Cf", "Cs") for c in made)


@pytest.mark.parametrize(
    ("key", "value", "one", "many"),
    [
        ("drive_peak_bw", 152.46, "152", "152.5"),
        ("stride_m", -1.5, "\N{MINUS SIGN}1.50", "\N{MINUS SIGN}1.500"),
        ("speed_mps", 40.2336, "40.23", "40.23"),
        ("drive_time_s", -0.0001, "0.000", "0.000"),
        ("drive_peak_bw", None, "\N{EM DASH}", "\N{EM DASH}"),
    ],
)
def test_numbers_have_the_digits_they_deserve(
    key: str, value: float | None, one: str, many: str
) -> None:
    assert written(quantity(key), value) == one
    assert written(quantity(key), value, of_many=True) == many
