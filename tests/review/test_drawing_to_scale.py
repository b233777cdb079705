"""Curves and paths as dots: nothing lost between dots, lengths true in both directions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tui.widgets.braille import Canvas, curve_levels
from tui.widgets.pressure_path import Area, _Drawing


def test_a_peak_of_one_sample_is_never_lost_between_columns() -> None:
    rng = np.random.default_rng(3)
    for _ in range(50):
        x = np.sort(rng.uniform(0.0, 1.0, 500))
        y = np.zeros(500)
        at = int(rng.integers(1, 499))
        y[at] = 1.0
        levels = curve_levels(20, 10, x, y, (0.0, 1.0), (0.0, 1.0))
        column = min(39, int(x[at] * 40))
        assert levels[0, column] == 0.0
        # Where it stays at zero the line is on the lowest dots.
        assert np.nanmax(levels) == 39.0


def test_a_curve_is_where_its_values_are() -> None:
    # y = x from corner to corner: dot column c of 40 spans c/40 to (c + 1)/40 of the height.
    x = np.linspace(0.0, 1.0, 1001)
    levels = curve_levels(20, 10, x, x, (0.0, 1.0), (0.0, 1.0))
    edges = np.arange(40) / 40.0
    assert levels[1] == pytest.approx(np.rint(39.0 * (1.0 - edges)))
    assert levels[0] == pytest.approx(np.rint(39.0 * (1.0 - edges - 1.0 / 40.0)))


def test_a_hole_in_a_curve_has_no_dots() -> None:
    x = np.linspace(0.0, 1.0, 101)
    y = np.where((x > 0.3) & (x < 0.7), math.nan, 0.5)
    levels = curve_levels(20, 10, x, y, (0.0, 1.0), (0.0, 1.0))
    assert np.isnan(levels[:, 14:26]).all()
    assert np.isfinite(levels[:, :11]).all()


def strokes(points: list[list[float]]) -> tuple[int, int, int]:
    """Return rows, columns and number of the dots of a path in a square of 2 m."""
    drawing = _Drawing(Canvas(60, 32), Area(-1.0, 1.0, -1.0, 1.0))
    mask = drawing._stroke(np.array(points))
    rows, columns = np.nonzero(mask)
    return int(np.ptp(rows)), int(np.ptp(columns)), int(mask.sum())


def test_a_metre_home_is_as_long_as_a_metre_across() -> None:
    home = strokes([[-0.5, 0.0], [0.5, 0.0]])
    across = strokes([[0.0, -0.5], [0.0, 0.5]])
    per_m = _Drawing(Canvas(60, 32), Area(-1.0, 1.0, -1.0, 1.0)).dots_per_m
    assert home[1] == pytest.approx(per_m, abs=1.0)
    assert across[0] == pytest.approx(per_m, abs=1.0)
    # No dot of a straight line is left out.
    assert home[2] == home[1] + 1
    assert across[2] == across[0] + 1


def test_first_base_is_up_and_home_to_the_right() -> None:
    drawing = _Drawing(Canvas(60, 32), Area(-1.0, 1.0, -1.0, 1.0))
    row, column = drawing._dot(0.0, 0.0)
    assert drawing._dot(0.0, 0.5)[0] < row
    assert drawing._dot(0.5, 0.0)[1] > column


def test_what_is_not_known_or_not_in_sight_is_not_drawn() -> None:
    whole = strokes([[-0.5, 0.0], [0.0, 0.0], [0.5, 0.0]])
    broken = strokes([[-0.5, 0.0], [math.nan, math.nan], [0.5, 0.0]])
    assert broken[2] == 2
    assert whole[2] > 20
    assert strokes([[-9.0, 0.0], [9.0, 0.0]])[1] < 120
