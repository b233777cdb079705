"""Paths of the centres of pressure of both feet, seen from above, to scale, on the deck.

Home plate is to the right, first base up, as on the deck's plan. The push-off
foot's path is thin with round signs, the landing foot's thick with squares,
and both carry their name. The dots of braille characters are as far apart
across as down, so lengths are true in every direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import ClassVar

import numpy as np
from rich.style import Style

from stream.layout import Layout
from stream.outputs import Array
from tui.safe_text import ELLIPSIS
from tui.units import Units
from tui.widgets.braille import Bools, Canvas
from tui.widgets.deck_plan import RUBBER_M, RUBBER_SIGN
from tui.widgets.name_places import NamePlaces, cells_of
from tui.widgets.rows import RowsWidget

#: Lengths of the scale's bar in the shown unit, the greatest that takes a third of the width.
_BARS = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05)


@dataclass(frozen=True, slots=True)
class Area:
    """What is seen, m in the mound frame: x from ``back`` to ``front``, y ``right`` to ``left``."""

    back: float
    front: float
    right: float
    left: float


@dataclass(frozen=True, eq=False)
class FootPath:
    """One foot: its name, style and path (n, 2), m; ``marks`` are signs at places.

    ``faint`` is another pitch's path: every second dot of it.
    """

    name: str
    style: str
    points: Array
    marks: tuple[tuple[str, tuple[float, float]], ...] = ()
    thick: bool = False
    faint: bool = False


@dataclass(frozen=True, eq=False)
class Pressure:
    """What is drawn: a title, an area, paths, where the feet press at the cursor's moment."""

    title: str
    area: Area
    paths: tuple[FootPath, ...]
    now: tuple[tuple[float, float], ...] = ()


def deck_area(layout: Layout) -> Area:
    """Return the whole deck."""
    deck = layout.deck
    return Area(deck.back, deck.front, -deck.half_width, deck.half_width)


def close_up(points: Array, least_m: float = 0.4) -> Area | None:
    """Return a square around a path (n, 2) with some space; None where there is no path."""
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return None
    low, high = known.min(axis=0), known.max(axis=0)
    x, y = (low + high) / 2.0
    half = max(least_m, 1.3 * float((high - low).max())) / 2.0
    return Area(x - half, x + half, y - half, y + half)


class PressurePath(RowsWidget):
    """Draws one :class:`Pressure`, or sentences where there is none."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "path--ink",
        "path--quiet",
        "path--line",
        "path--drive",
        "path--lead",
        "path--lead-name",
        "path--mark",
    }
    DEFAULT_CSS = """
    PressurePath {
        & > .path--ink { color: $ink; text-style: bold; }
        & > .path--quiet { color: $quiet; }
        & > .path--line { color: $line; }
        & > .path--drive { color: $drive; text-style: bold; }
        & > .path--lead { color: $lead; text-style: bold; }
        & > .path--lead-name { color: $lead-text; text-style: bold; }
        & > .path--mark { color: $mark; text-style: bold; }
    }
    """

    def __init__(self, id: str) -> None:
        super().__init__(id)
        self._pressure: Pressure | None = None
        self._layout: Layout | None = None
        self._units = Units()
        self._empty: tuple[str, ...] = ()

    def show(
        self,
        pressure: Pressure | None,
        layout: Layout | None,
        units: Units,
        empty: Sequence[str] = (),
    ) -> None:
        """Draw ``pressure`` on ``layout``, or say ``empty``."""
        self._pressure, self._layout = pressure, layout
        self._units, self._empty = units, tuple(empty)
        self.draw()

    def on_resize(self) -> None:
        """Draw at the new size."""
        self.draw()

    def draw(self) -> None:
        """Draw what is shown."""
        width, height = self.size
        if width < 12 or height < 5:
            self.put([])
            return
        canvas = Canvas(width, height)
        if self._pressure is None or self._layout is None:
            first = max(0, (height - len(self._empty)) // 2)
            for row, text in enumerate(self._empty):
                canvas.under(1, first + row, text, "ink")
        else:
            _Drawing(canvas, self._pressure.area).draw(self._pressure, self._layout, self._units)
        self.put(canvas.strips(cache(self._style)))

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"path--{name}") if name else self.rich_style


def _name_style(path: FootPath) -> str:
    return "lead-name" if path.style == "lead" else path.style


class _Drawing:
    """An area on a canvas, below one row of title and above one row of directions and scale."""

    def __init__(self, canvas: Canvas, area: Area) -> None:
        self._canvas = canvas
        self._area = area
        rows = canvas.rows - 2
        length, across = area.front - area.back, area.left - area.right
        self.dots_per_m = min((canvas.columns * 2 - 1) / length, (rows * 4 - 1) / across)
        self._shape = (canvas.rows * 4, canvas.columns * 2)
        self._first_column = (canvas.columns * 2 - 1 - length * self.dots_per_m) / 2.0
        self._first_row = 4 + (rows * 4 - 1 - across * self.dots_per_m) / 2.0

    def draw(self, pressure: Pressure, layout: Layout, units: Units) -> None:
        canvas = self._canvas
        self._rubber()
        edges = np.zeros(self._shape, dtype=bool)
        for platform in layout.platforms:
            corners = platform.corners[[0, 1, 2, 3, 0], :2]
            edges |= self._stroke(corners)
        dot = np.add.outer(np.arange(self._shape[0]), np.arange(self._shape[1]))
        canvas.dots(np.asarray(edges & (dot % 2 == 0)), "line")
        lines = np.zeros(self._shape, dtype=bool)
        for path in pressure.paths:
            mask = self._stroke(path.points)
            if path.thick:
                mask[1:] |= mask[:-1].copy()
            if path.faint:
                mask &= dot % 2 == 0
            canvas.dots(mask, path.style)
            lines |= mask
        for path in pressure.paths:
            for sign, (x, y) in path.marks:
                self._sign(x, y, sign, _name_style(path))
        for x, y in pressure.now:
            self._sign(x, y, "✚", "mark", beside=True)
        self._words(pressure.title, units)
        names = NamePlaces(canvas, cells_of(lines), (1, canvas.rows - 1))
        for path in sorted(pressure.paths, key=lambda p: p.faint):
            self._name(path, names)

    def _dot(self, x: float, y: float) -> tuple[int, int]:
        """Return the dot (row, column) of a place."""
        rows, columns = self._dots(np.array([[x, y]]))
        return round(float(rows[0])), round(float(columns[0]))

    def _dots(self, points: Array) -> tuple[Array, Array]:
        """Return the dot rows and columns of places (n, 2), between dots as they come."""
        rows = self._first_row + (self._area.left - points[:, 1]) * self.dots_per_m
        columns = self._first_column + (points[:, 0] - self._area.back) * self.dots_per_m
        return rows, columns

    def _stroke(self, points: Array) -> Bools:
        """Return the dots of the lines from point to point, cut at the edges of what is seen.

        Points that are not known break the line.
        """
        mask = np.zeros(self._shape, dtype=bool)
        rows, columns = (np.rint(d) for d in self._dots(points))
        known = np.flatnonzero(np.isfinite(rows) & np.isfinite(columns))
        for run in np.split(known, np.flatnonzero(np.diff(known) > 1) + 1):
            if not len(run):
                continue
            r, c = rows[run], columns[run]
            # So many dots from point to point that none is left out.
            steps = np.maximum(np.abs(np.diff(r)), np.abs(np.diff(c)))
            along = np.concatenate([[0.0], np.cumsum(steps)])
            fine = np.arange(along[-1] + 1.0)
            self._put(mask, np.interp(fine, along, r), np.interp(fine, along, c))
        return mask

    def _put(self, mask: Bools, rows: Array, columns: Array) -> None:
        """Set the dots that lie in sight: below the title, above the last row."""
        r, c = np.rint(rows).astype(int), np.rint(columns).astype(int)
        seen = (r >= 4) & (r < self._shape[0] - 4) & (c >= 0) & (c < self._shape[1])
        mask[r[seen], c[seen]] = True

    def _rubber(self) -> None:
        depth, width = RUBBER_M
        top, left = self._dot(-depth, width / 2)
        bottom, right = self._dot(0.0, -width / 2)
        columns = max(1, round((right - left) / 2))
        for row in range(max(1, top // 4), min(self._canvas.rows - 2, bottom // 4) + 1):
            start = left // 2
            shown = max(0, start + columns) - max(0, start)
            self._canvas.under(max(0, start), row, RUBBER_SIGN * shown, "quiet")

    def _name(self, path: FootPath, names: NamePlaces) -> None:
        """Write a path's name near its lower right corner; another pitch's where it ends."""
        known = path.points[np.isfinite(path.points).all(axis=1)]
        if len(known):
            corner = float(known[:, 0].max()), float(known[:, 1].min())
            end = float(known[-1, 0]), float(known[-1, 1])
            row, column = self._dot(*(end if path.faint else corner))
            if 0 <= column < self._shape[1]:
                names.put(path.name, _name_style(path), column // 2, row // 4, before=False)

    def _sign(self, x: float, y: float, sign: str, style: str, *, beside: bool = False) -> None:
        """Put a sign at a place; ``beside`` what stands there already, in the next free cell."""
        dot_row, dot_column = self._dot(x, y)
        row, column = dot_row // 4, dot_column // 2
        if 1 <= row < self._canvas.rows - 1:
            while beside and column in self._canvas.covers(row):
                column += 1
            self._canvas.over(column, row, sign, style)

    def _words(self, title: str, units: Units) -> None:
        canvas = self._canvas
        width = canvas.columns
        canvas.over(0, 0, title if len(title) <= width else title[: width - 1] + ELLIPSIS, "ink")
        unit = "m"
        per = units.read(unit, "1")
        widest = width / 3.0
        length = next((b for b in _BARS if b * per * self.dots_per_m / 2 <= widest), _BARS[-1])
        cells = max(2, round(length * per * self.dots_per_m / 2))
        digits = 0 if length >= 1 else 2 if length < 0.1 else 1
        said = units.number(unit, length * per, digits)
        bar = f"├{'─' * (cells - 2)}┤ {said} {units.name(unit)}"
        canvas.over(0, canvas.rows - 1, bar, "quiet")
        wide, short = "▲ first base   home plate ▶", "home ▶"
        way = wide if len(bar) + len(wide) + 2 <= width else short
        if len(bar) + len(way) + 2 <= width:
            canvas.over(width - len(way), canvas.rows - 1, way, "quiet")
