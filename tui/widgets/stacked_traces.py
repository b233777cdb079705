"""Curves of both legs, one panel a component, over one time axis, with a cursor to read them at.

The push-off leg is a thin line, the landing leg a thick one, and both carry
their name; other pitches are broken lines that carry their number; a mean's
band is a field of dots. None of them needs its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import ClassVar

import numpy as np
from rich.segment import Segment
from rich.style import Style
from textual.events import MouseDown, MouseMove
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from analysis.curves import Curves
from analysis.review.curve_sets import Band
from stream.outputs import Array
from tui.safe_text import ELLIPSIS
from tui.units import Units
from tui.widgets.axes import (
    Mark,
    column_of,
    event_names,
    row_of,
    ticks,
    time_axis,
    y_range_of,
)
from tui.widgets.braille import Bools, Canvas, curve_levels, line_mask
from tui.widgets.name_places import NamePlaces, cells_of
from tui.widgets.rows import that_fit

_GUTTER = 6
#: Least rows of a panel that can still be read.
_LEAST_ROWS = 3
#: Strokes of other pitches' lines: so many dots on, so many off.
_STROKES = ((6, 3), (2, 2), (10, 2), (1, 3), (4, 6))


@dataclass(frozen=True, eq=False)
class Panel:
    """One component: this pitch's curves, other pitches' by their label, the mean and its band.

    All values are in the unit that ``title`` names.
    """

    title: str
    curves: Curves
    others: tuple[tuple[str, Curves], ...] = ()
    band: Band | None = None


@dataclass(frozen=True, eq=False)
class Stack:
    """What is drawn: panels from the top, marks in order of importance, heading, time shown."""

    title: tuple[str, ...]
    panels: tuple[Panel, ...]
    marks: tuple[Mark, ...]
    time_range: tuple[float, float]


class StackedTraces(Widget):
    """Draws one :class:`Stack` and a cursor, or a sentence where there is none."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "stack--ink",
        "stack--quiet",
        "stack--line",
        "stack--drive",
        "stack--lead",
        "stack--lead-name",
        "stack--mark",
    }
    DEFAULT_CSS = """
    StackedTraces {
        & > .stack--ink { color: $ink; text-style: bold; }
        & > .stack--quiet { color: $quiet; }
        & > .stack--line { color: $line; }
        & > .stack--drive { color: $drive; }
        & > .stack--lead { color: $lead; }
        & > .stack--lead-name { color: $lead-text; }
        & > .stack--mark { color: $mark; }
    }
    """

    class Moment(Message):
        """The mouse chose a moment, s from foot contact."""

        def __init__(self, moment_s: float) -> None:
            super().__init__()
            self.moment_s = moment_s

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self._units = Units()
        self._empty: tuple[str, ...] = ()
        self._stack: Stack | None = None
        self._cursor_s: float | None = None
        self._strips: list[Strip] = []
        self._plotted: set[int] = set()

    @property
    def stack(self) -> Stack | None:
        """What is drawn."""
        return self._stack

    @property
    def text(self) -> str:
        """What is shown, without styles."""
        return "\n".join(self.render_line(y).text for y in range(self.size.height))

    def show(self, stack: Stack | None, units: Units, empty: Sequence[str]) -> None:
        """Draw ``stack``, or say ``empty`` where there is none."""
        self._stack, self._units, self._empty = stack, units, tuple(empty)
        self._strips = []
        self.refresh()

    def show_cursor(self, moment_s: float | None) -> None:
        """Put the cursor at a moment; the curves stay as they are."""
        if moment_s != self._cursor_s:
            self._cursor_s = moment_s
            self.refresh()

    def notify_style_update(self) -> None:
        """Colours changed: draw anew."""
        super().notify_style_update()
        self._strips = []

    def on_mouse_down(self, event: MouseDown) -> None:
        """Put the cursor under the mouse."""
        self._point(event.x)

    def on_mouse_move(self, event: MouseMove) -> None:
        """Drag the cursor."""
        if event.button == 1:
            self._point(event.x)

    def render_line(self, y: int) -> Strip:
        """Draw row ``y``; the picture is made once for a size, the cursor laid over it."""
        width, height = self.size
        if len(self._strips) != height or (height and self._strips[0].cell_length != width):
            self._plotted = set()
            self._strips = self._draw(width, height)
        strip = self._strips[y]
        return self._with_cursor(strip, width) if y in self._plotted else strip

    def _point(self, x: int) -> None:
        columns = self.size.width - _GUTTER
        if self._stack is not None and columns > 0:
            low, high = self._stack.time_range
            share = (min(max(x - _GUTTER, 0), columns - 1) + 0.5) / columns
            self.post_message(self.Moment(low + share * (high - low)))

    def _with_cursor(self, strip: Strip, width: int) -> Strip:
        stack, moment = self._stack, self._cursor_s
        if stack is None or moment is None:
            return strip
        if not stack.time_range[0] <= moment <= stack.time_range[1]:
            return strip
        at = _GUTTER + column_of(moment, stack.time_range, width - _GUTTER)
        here = strip.crop(at, at + 1).text
        # The curve stays to be seen where the cursor crosses it.
        middle = Strip([Segment("│" if here in " ┈─╎" else here, self._style("ink"))], 1)
        return Strip.join([strip.crop(0, at), middle, strip.crop(at + 1, width)])

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"stack--{name}") if name else self.rich_style

    def _draw(self, width: int, height: int) -> list[Strip]:
        stack = self._stack
        if stack is None or width < 24 or height < 6:
            return self._say(width, height)
        named = 1 if height < 16 else 2 if height < 20 else 3
        room, columns = height - 2 - named, width - _GUTTER
        panels = stack.panels
        if room // len(panels) < _LEAST_ROWS:
            panels = panels[: max(1, room // _LEAST_ROWS)]
        strips = [self._text(that_fit(stack.title, width, " · "), "ink", width)]
        for index, panel in enumerate(panels):
            rows = room // len(panels) + (1 if index < room % len(panels) else 0)
            strips += self._panel(panel, stack, columns, rows, named=index == 0 or rows >= 8)
        self._plotted = set(range(1, len(strips)))
        gutter = self._text("", "quiet", _GUTTER)
        below = [
            time_axis(stack.time_range, columns, self._units),
            event_names(stack.marks, stack.time_range, columns, named),
        ]
        strips += [Strip.join([gutter, s]) for c in below for s in c.strips(cache(self._style))]
        return strips

    def _panel(
        self, panel: Panel, stack: Stack, columns: int, rows: int, *, named: bool
    ) -> list[Strip]:
        canvas = Canvas(columns, rows)
        y_range = y_range_of(*_all_values(panel))
        labels = {}
        for value in ticks(y_range, rows):
            row = row_of(value, y_range, rows)
            labels[row] = self._units.number("", value, 0)
            canvas.under(0, row, ("─" if value == 0 else "┈") * columns, "line")
        for mark in stack.marks:
            for row in range(rows):
                canvas.under(column_of(mark.time_s, stack.time_range, columns), row, "╎", "mark")
        where = (stack.time_range, y_range)
        if panel.band is not None:
            _draw_band(canvas, panel.band, where)
        lines = np.zeros((rows * 4, columns * 2), dtype=bool)
        for index, (_, other) in enumerate(panel.others):
            lines |= _draw_other(canvas, other, _STROKES[index % len(_STROKES)], where)
        c = panel.curves
        lead, drive = (_line(canvas, c.time_s, values, where) for values in (c.lead, c.drive))
        lead = _thick(lead)
        canvas.dots(lead, "lead")
        canvas.dots(drive, "drive")
        title = (
            panel.title if len(panel.title) <= columns else panel.title[: columns - 1] + ELLIPSIS
        )
        canvas.over(0, 0, title, "ink")
        names = NamePlaces(canvas, cells_of(lines | lead | drive))
        if named:
            _name(canvas, names, (c, c.drive), ("push-off", "drive"), where, before=True)
            _name(canvas, names, (c, c.lead), ("landing", "lead-name"), where, before=False)
        for label, other in panel.others:
            _name(canvas, names, (other, other.drive), (label, "quiet"), where, before=True)
            _name(canvas, names, (other, other.lead), (label, "quiet"), where, before=False)
        return [
            Strip.join(
                [self._text(labels.get(r, "").rjust(_GUTTER - 1) + " ", "quiet", _GUTTER), s]
            )
            for r, s in enumerate(canvas.strips(cache(self._style)))
        ]

    def _say(self, width: int, height: int) -> list[Strip]:
        first = max(0, (height - len(self._empty)) // 2)
        lines = {first + i: f" {text}" for i, text in enumerate(self._empty)}
        return [self._text(lines.get(y, ""), "ink", width) for y in range(height)]

    def _text(self, text: str, style: str, width: int) -> Strip:
        shown = text if len(text) <= width else text[: max(0, width - 1)] + ELLIPSIS
        return Strip([Segment(shown, self._style(style))], len(shown)).adjust_cell_length(
            width, self._style("quiet")
        )


Where = tuple[tuple[float, float], tuple[float, float]]


def _all_values(panel: Panel) -> list[Array]:
    values = [panel.curves.drive, panel.curves.lead]
    for _, other in panel.others:
        values += [other.drive, other.lead]
    if panel.band is not None:
        b = panel.band
        values += [b.drive - b.drive_sd, b.drive + b.drive_sd, b.lead - b.lead_sd]
        values += [b.lead + b.lead_sd]
    return values


def _line(canvas: Canvas, time_s: Array, values: Array, where: Where) -> Bools:
    levels = curve_levels(canvas.columns, canvas.rows, time_s, values, *where)
    return line_mask(levels, canvas.rows)


def _thick(mask: Bools) -> Bools:
    """Return the dots of a line with a second line of dots below it."""
    wide = mask.copy()
    wide[1:] |= mask[:-1]
    return wide


def _draw_band(canvas: Canvas, band: Band, where: Where) -> None:
    for mean, sd in ((band.drive, band.drive_sd), (band.lead, band.lead_sd)):
        upper = curve_levels(canvas.columns, canvas.rows, band.time_s, mean + sd, *where)
        lower = curve_levels(canvas.columns, canvas.rows, band.time_s, mean - sd, *where)
        dot = np.arange(canvas.rows * 4)[:, None]
        column = np.arange(canvas.columns * 2)[None, :]
        inside = (dot >= upper[0]) & (dot <= lower[1])
        canvas.dots(np.asarray(inside & ((dot + column) % 2 == 0)), "line")


def _draw_other(canvas: Canvas, c: Curves, stroke: tuple[int, int], where: Where) -> Bools:
    """Draw another pitch as broken lines; return their dots."""
    on = (np.arange(canvas.columns * 2) % sum(stroke) < stroke[0])[None, :]
    both = _line(canvas, c.time_s, c.drive, where) | _line(canvas, c.time_s, c.lead, where)
    canvas.dots(both & on, "quiet")
    return both & on


def _name(
    canvas: Canvas,
    names: NamePlaces,
    curve: tuple[Curves, Array],
    name: tuple[str, str],
    where: Where,
    *,
    before: bool,
) -> None:
    """Write a curve's name (text, style) beside where it is farthest from zero in sight."""
    c, values = curve
    time_range, y_range = where
    seen = (c.time_s >= time_range[0]) & (c.time_s <= time_range[1]) & np.isfinite(values)
    if seen.any():
        top = int(np.argmax(np.where(seen, np.abs(values), -np.inf)))
        column = column_of(float(c.time_s[top]), time_range, canvas.columns)
        row = row_of(float(values[top]), y_range, canvas.rows)
        names.put(*name, column, row, before=before)
