"""Curves of both legs over one pitch, with its events marked.

The push-off leg is a line, the landing leg a line over a dotted ground; both
carry their name, so that neither needs its colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from analysis.curves import Curves
from tui.units import Units
from tui.widgets.axes import (
    Mark,
    column_of,
    event_names,
    name_curve,
    row_of,
    ticks,
    time_axis,
    y_range_of,
)
from tui.widgets.braille import Canvas, curve_levels, ground_mask, line_mask
from tui.widgets.rows import that_fit

_GUTTER = 5


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
        y_range = y_range_of(plot.curves.drive, plot.curves.lead)
        self._grid(canvas, y_range)
        for mark in plot.marks:
            column = column_of(mark.time_s, plot.time_range, columns)
            for row in range(rows):
                canvas.under(column, row, "╎", "mark")
        c = plot.curves
        where = (plot.time_range, y_range)
        lead = curve_levels(columns, rows, c.time_s, c.lead, *where)
        canvas.dots(ground_mask(lead, rows, y_range), "lead")
        canvas.dots(line_mask(lead, rows), "lead")
        drive = curve_levels(columns, rows, c.time_s, c.drive, *where)
        canvas.dots(line_mask(drive, rows), "drive")
        name_curve(canvas, c, c.drive, "push-off", "drive", where, before=True)
        name_curve(canvas, c, c.lead, "landing", "lead-name", where, before=False)
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
            *self._below(time_axis(plot.time_range, columns, self._units)),
            *self._below(event_names(plot.marks, plot.time_range, columns, named_rows)),
        ]

    def _grid(self, canvas: Canvas, y_range: tuple[float, float]) -> None:
        for value in ticks(y_range, canvas.rows):
            row = row_of(value, y_range, canvas.rows)
            canvas.under(0, row, ("─" if value == 0 else "┈") * canvas.columns, "line")

    def _y_labels(self, rows: int, y_range: tuple[float, float], unit: str) -> dict[int, str]:
        return {
            row_of(value, y_range, rows): self._units.number(unit, value, 0)
            for value in ticks(y_range, rows)
        }

    def _below(self, canvas: Canvas) -> list[Strip]:
        gutter = self._text("", "quiet", _GUTTER)
        return [Strip.join([gutter, strip]) for strip in canvas.strips(self._style)]

    def _say(self, text: str, width: int, height: int) -> list[Strip]:
        lines = wrap(text, max(10, width))
        above = max(0, (height - len(lines) + 1) // 2)
        rows = dict(enumerate(lines, above))
        return [self._text(rows.get(y, ""), "quiet", width) for y in range(height)]

    def _text(self, text: str, style: str, width: int) -> Strip:
        shown = text if len(text) <= width else text[: max(0, width - 1)] + "…"
        return Strip([Segment(shown, self._style(style))], len(shown)).adjust_cell_length(
            width, self._style("quiet")
        )
