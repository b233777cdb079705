"""Axes of plots in terminal cells: where values, times and names of events stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.curves import Curves
from stream.outputs import Array
from tui.units import Units
from tui.widgets.braille import Canvas

#: Steps between grid lines that read well.
_STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000)


@dataclass(frozen=True, slots=True)
class Mark:
    """An event: its name and its time in seconds from foot contact."""

    name: str
    time_s: float


def time_axis(time_range: tuple[float, float], columns: int, units: Units) -> Canvas:
    """Return one row with times in seconds."""
    canvas = Canvas(columns, 1)
    low, high = time_range
    step = next(
        s for s in (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0) if (high - low) / s * 8 <= columns
    )
    for index in range(math.ceil(low / step), math.floor(high / step) + 1):
        suffix = "" if index else " s"
        text = units.number("", index * step, 2 if step == 0.25 else 1) + suffix
        column = column_of(index * step, time_range, columns) - len(text) // 2
        canvas.under(max(0, min(columns - len(text), column)), 0, text, "quiet")
    return canvas


def event_names(
    marks: Sequence[Mark], time_range: tuple[float, float], columns: int, rows: int
) -> Canvas:
    """Return the marks' names for below a plot, important ones first, none over another."""
    canvas = Canvas(columns, rows)
    taken: list[list[tuple[int, int]]] = [[] for _ in range(rows)]
    for mark in marks:
        found = _place(column_of(mark.time_s, time_range, columns), mark, columns, taken)
        if found is not None:
            row, start, text = found
            taken[row].append((start - 1, start + len(text)))
            canvas.over(start, row, text, "mark")
    return canvas


def _place(
    column: int, mark: Mark, columns: int, taken: Sequence[Sequence[tuple[int, int]]]
) -> tuple[int, int, str] | None:
    """Return (row, first column, text) of a free place beside the mark's own column."""
    right = (column, f"▴{mark.name}")
    left = (column - len(mark.name), f"{mark.name}▴")
    for row, spans in enumerate(taken):
        for start, text in (left, right) if mark.time_s < 0 else (right, left):
            end = start + len(text) - 1
            free = all(end < a or start > b for a, b in spans)
            if start >= 0 and end < columns and free:
                return row, start, text
    return None


def name_curve(
    canvas: Canvas,
    c: Curves,
    values: Array,
    name: str,
    style: str,
    where: tuple[tuple[float, float], tuple[float, float]],
    before: bool,
) -> None:
    """Write a curve's name beside its highest point in the time shown."""
    time_range, y_range = where
    seen = (c.time_s >= time_range[0]) & (c.time_s <= time_range[1]) & np.isfinite(values)
    if not seen.any():
        return
    top = int(np.argmax(np.where(seen, values, -np.inf)))
    column = column_of(float(c.time_s[top]), time_range, canvas.columns)
    row = max(0, row_of(float(values[top]), y_range, canvas.rows))
    start = column - len(name) - 3 if before else column + 3
    canvas.over(max(0, min(canvas.columns - len(name), start)), row, name, style)


def y_range_of(*curves: Array) -> tuple[float, float]:
    """Return the least and greatest value to be shown, zero among them."""
    both = np.concatenate(curves)
    both = both[np.isfinite(both)]
    low, high = (float(both.min()), float(both.max())) if both.size else (0.0, 1.0)
    low, high = min(low, 0.0), max(high, 1.0)
    if low > -0.02 * high:
        low = 0.0
    return low * 1.05, high * 1.05


def ticks(y_range: tuple[float, float], rows: int) -> list[float]:
    """Return the values at which grid lines stand in ``rows`` rows; two at least, for a scale."""
    low, high = y_range
    most = max(2, rows // 4)
    first = next((i for i, s in enumerate(_STEPS) if (high - low) / s <= most), len(_STEPS) - 1)
    found: list[float] = []
    for step in reversed(_STEPS[: first + 1]):
        found = [i * step for i in range(math.ceil(low / step), math.floor(high / step) + 1)]
        if len(found) > 1:
            break
    return found


def row_of(value: float, y_range: tuple[float, float], rows: int) -> int:
    """Return the row of ``value``, 0 at the top."""
    share = (value - y_range[0]) / (y_range[1] - y_range[0])
    return round((1.0 - share) * (rows * 4 - 1)) // 4


def column_of(time_s: float, time_range: tuple[float, float], columns: int) -> int:
    """Return the column of a time."""
    share = (time_s - time_range[0]) / (time_range[1] - time_range[0])
    return max(0, min(columns - 1, int(share * columns)))
