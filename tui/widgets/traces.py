"""Curves of both legs over one pitch, with its events marked.

The push-off leg is a line, the landing leg a line over a dotted ground; both
carry their name, so that neither needs its colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from analysis.curves import Curves
from tui.units import Units
from tui.widgets.braille import Canvas, curve_levels, ground_mask, line_mask
from tui.widgets.rows import that_fit

_GUTTER = 5
#: Steps between grid lines that read well.
_STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000)


@dataclass(frozen=True, slots=True)
class Mark:
    """An event: its name and its time in seconds from foot contact."""

    name: str
    time_s: float


@dataclass(frozen=True, eq=False)
class Plot:
    """What is drawn: curves, marks in order of importance, the heading, the time shown.

    Of the heading's parts as many are shown as fit.
    """

    title: tuple[str, ...]
    curves: Curves
    marks: tuple[Mark, ...]
    time_range: tuple[float, float]


class TracesPlot(Widget):
    """Draws one :class:`Plot`, or a sentence where there is none."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "plot--ink",
        "plot--quiet",
        "plot--line",
        "plot--drive",
        "plot--lead",
        "plot--lead-name",
        "plot--mark",
    }
    DEFAULT_CSS = """
    TracesPlot {
        & > .plot--ink { color: $ink; text-style: bold; }
        & > .plot--quiet { color: $quiet; }
        & > .plot--line { color: $line; }
        & > .plot--drive { color: $drive; }
        & > .plot--lead { color: $lead; }
        & > .plot--lead-name { color: $lead-text; }
        & > .plot--mark { color: $mark; }
    }
    """

    def __init__(self, id: str, empty: str) -> None:
        super().__init__(id=id)
        self._units = Units()
        self._empty = empty
        self._plot: Plot | None = None
        self._strips: list[Strip] = []

    def show(self, plot: Plot | None, units: Units, empty: str) -> None:
        """Draw ``plot``, or say ``empty`` where there is none."""
        self._plot, self._units, self._empty = plot, units, empty
        self._strips = []
        self.refresh()

    def notify_style_update(self) -> None:
        """Colours changed: draw anew."""
        super().notify_style_update()
        self._strips = []

    def render_line(self, y: int) -> Strip:
        """Draw row ``y``; the picture is made once for a size."""
        width, height = self.size
        if len(self._strips) != height or (height and self._strips[0].cell_length != width):
            self._strips = self._draw(width, height)
        return self._strips[y]

    def _style(self, name: str) -> Style:
        if not name:
            return self.rich_style
        return self.get_component_rich_style(f"plot--{name}")

    def _draw(self, width: int, height: int) -> list[Strip]:
        plot = self._plot
        if plot is None or width < 20 or height < 6:
            return self._say(self._empty, width, height)
        named_rows = 1 if height < 10 else 2 if height < 12 else 3
        rows, columns = height - 2 - named_rows, width - _GUTTER
        canvas = Canvas(columns, rows)
        y_range = _y_range(plot.curves)
        self._grid(canvas, y_range)
        for mark in plot.marks:
            column = _column(mark.time_s, plot.time_range, columns)
            for row in range(rows):
                canvas.under(column, row, "╎", "mark")
        c = plot.curves
        where = (plot.time_range, y_range)
        lead = curve_levels(columns, rows, c.time_s, c.lead, *where)
        canvas.dots(ground_mask(lead, rows, y_range), "lead")
        canvas.dots(line_mask(lead, rows), "lead")
        drive = curve_levels(columns, rows, c.time_s, c.drive, *where)
        canvas.dots(line_mask(drive, rows), "drive")
        _name_curve(canvas, c, c.drive, "push-off", "drive", where, before=True)
        _name_curve(canvas, c, c.lead, "landing", "lead-name", where, before=False)
        labels = self._y_labels(rows, y_range, c.unit)
        body = canvas.strips(self._style)
        head = [self._text(that_fit(plot.title, width, " · "), "ink", width)]
        plotted = [
            Strip.join(
                [self._text(labels.get(r, "").rjust(_GUTTER - 1) + " ", "quiet", _GUTTER), s]
            )
            for r, s in enumerate(body)
        ]
        return [
            *head,
            *plotted,
            self._time_axis(plot, width, columns),
            *self._names(plot, width, columns, named_rows),
        ]

    def _grid(self, canvas: Canvas, y_range: tuple[float, float]) -> None:
        for value in _ticks(y_range, canvas.rows):
            row = _row(value, y_range, canvas.rows)
            canvas.under(0, row, ("─" if value == 0 else "┈") * canvas.columns, "line")

    def _y_labels(self, rows: int, y_range: tuple[float, float], unit: str) -> dict[int, str]:
        return {
            _row(value, y_range, rows): self._units.number(unit, value, 0)
            for value in _ticks(y_range, rows)
        }

    def _time_axis(self, plot: Plot, width: int, columns: int) -> Strip:
        canvas = Canvas(columns, 1)
        low, high = plot.time_range
        step = next(
            s for s in (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0) if (high - low) / s * 8 <= columns
        )
        for index in range(math.ceil(low / step), math.floor(high / step) + 1):
            value = index * step
            text = self._units.number("", value, 2 if step == 0.25 else 1) + (
                " s" if not index else ""
            )
            column = _column(value, plot.time_range, columns) - len(text) // 2
            canvas.under(max(0, min(columns - len(text), column)), 0, text, "quiet")
        return Strip.join([self._text("", "quiet", _GUTTER), *canvas.strips(self._style)])

    def _names(self, plot: Plot, width: int, columns: int, rows: int) -> list[Strip]:
        """Names of the marks under the plot, the important ones first, none over another."""
        canvas = Canvas(columns, rows)
        taken: list[list[tuple[int, int]]] = [[] for _ in range(rows)]
        for mark in plot.marks:
            column = _column(mark.time_s, plot.time_range, columns)
            place = _place(column, mark, columns, taken)
            if place is not None:
                row, start, text = place
                taken[row].append((start - 1, start + len(text)))
                canvas.over(start, row, text, "mark")
        return [
            Strip.join([self._text("", "quiet", _GUTTER), strip])
            for strip in canvas.strips(self._style)
        ]

    def _say(self, text: str, width: int, height: int) -> list[Strip]:
        return [self._text(text if y == height // 2 else "", "quiet", width) for y in range(height)]

    def _text(self, text: str, style: str, width: int) -> Strip:
        shown = text if len(text) <= width else text[: max(0, width - 1)] + "…"
        return Strip([Segment(shown, self._style(style))], len(shown)).adjust_cell_length(
            width, self._style("quiet")
        )


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


def _name_curve(
    canvas: Canvas,
    c: Curves,
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
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
    column = _column(float(c.time_s[top]), time_range, canvas.columns)
    row = max(0, _row(float(values[top]), y_range, canvas.rows))
    start = column - len(name) - 3 if before else column + 3
    canvas.over(max(0, min(canvas.columns - len(name), start)), row, name, style)


def _y_range(c: Curves) -> tuple[float, float]:
    both = np.concatenate([c.drive, c.lead])
    both = both[np.isfinite(both)]
    low, high = (float(both.min()), float(both.max())) if both.size else (0.0, 1.0)
    low, high = min(low, 0.0), max(high, 1.0)
    if low > -0.02 * high:
        low = 0.0
    return low * 1.05, high * 1.05


def _ticks(y_range: tuple[float, float], rows: int) -> list[float]:
    low, high = y_range
    most = max(2, rows // 4)
    step = next((s for s in _STEPS if (high - low) / s <= most), _STEPS[-1])
    return [i * step for i in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _row(value: float, y_range: tuple[float, float], rows: int) -> int:
    share = (value - y_range[0]) / (y_range[1] - y_range[0])
    return round((1.0 - share) * (rows * 4 - 1)) // 4


def _column(time_s: float, time_range: tuple[float, float], columns: int) -> int:
    share = (time_s - time_range[0]) / (time_range[1] - time_range[0])
    return max(0, min(columns - 1, int(share * columns)))
