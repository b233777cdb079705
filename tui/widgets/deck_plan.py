"""The deck seen from above, to scale from its layout, with live load and centres of pressure.

Home plate is to the right, first base up. A cell of a terminal is about twice
as high as it is wide, so a metre takes twice as many columns as rows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.style import Style
from textual.strip import Strip

from stream.layout import Deck, Layout, Platform, PlatformKind
from stream.snapshot import PlatformLoad
from tui.units import Units
from tui.widgets.braille import Canvas
from tui.widgets.rows import RowsWidget

CELL_ASPECT = 2.0
#: The rubber is 24 in by 6 in, its front edge at x = 0 (Official Baseball Rules, 2.04).
RUBBER_M = (0.1524, 0.6096)
RUBBER_SIGN = "\N{BOX DRAWINGS LIGHT DIAGONAL UPPER RIGHT TO LOWER LEFT}"
SPOT_SIGN = "◎"
#: Below this a platform is drawn as unloaded, N.
_UNLOADED_N = 20.0
#: Shades of a tile's load, each with the least load it stands for, N.
_SHADES = ((600.0, "▓"), (250.0, "▒"), (_UNLOADED_N, "░"))
_NO_LAYOUT = ("The deck cannot be drawn:", "the layout is not known here (--layout).")
_UP, _DOWN, _LEFT, _RIGHT = 1, 2, 4, 8
_JOINS = {
    _UP | _DOWN: "│",
    _LEFT | _RIGHT: "─",
    _DOWN | _RIGHT: "┌",
    _DOWN | _LEFT: "┐",
    _UP | _RIGHT: "└",
    _UP | _LEFT: "┘",
    _UP | _DOWN | _RIGHT: "├",
    _UP | _DOWN | _LEFT: "┤",
    _DOWN | _LEFT | _RIGHT: "┬",
    _UP | _LEFT | _RIGHT: "┴",
    _UP | _DOWN | _LEFT | _RIGHT: "┼",
}


@dataclass(frozen=True, slots=True)
class Scale:
    """From the mound frame (m) to cells."""

    deck: Deck
    columns_per_m: float
    columns: int
    rows: int

    def column(self, x: float) -> int:
        """Return the column of ``x``."""
        return _clamp(round((x - self.deck.back) * self.columns_per_m), self.columns - 1)

    def row(self, y: float) -> int:
        """Return the row of ``y``."""
        down = (self.deck.half_width - y) * self.columns_per_m / CELL_ASPECT
        return _clamp(round(down), self.rows - 1)


def scale_for(deck: Deck, columns: int, rows: int) -> Scale:
    """Return the largest scale at which the deck fits into ``columns`` x ``rows`` cells."""
    length, width = deck.front - deck.back, 2 * deck.half_width
    per_m = min((columns - 1) / length, (rows - 1) * CELL_ASPECT / width)
    return Scale(
        deck,
        per_m,
        round(length * per_m) + 1,
        round(width * per_m / CELL_ASPECT) + 1,
    )


class DeckPlan(RowsWidget):
    """Draws a layout and what bears on it now."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "plan--ink",
        "plan--quiet",
        "plan--line",
        "plan--cop",
        "plan--load",
    }
    DEFAULT_CSS = """
    DeckPlan {
        & > .plan--ink { color: $ink; text-style: bold; }
        & > .plan--quiet { color: $quiet; }
        & > .plan--line { color: $line; }
        & > .plan--cop { color: $mark; text-style: bold; }
        & > .plan--load { color: $drive; }
    }
    """

    def __init__(self, id: str, layout: Layout | None) -> None:
        super().__init__(id)
        self._layout = layout
        self._ground: Canvas | None = None
        self._drawn_for: tuple[int, int, Units] | None = None
        self._strips: list[Strip] = []
        self._loads: Sequence[PlatformLoad] | None = None
        self._units = Units()
        self._spot: tuple[float, float] | None = None

    def show(
        self,
        loads: Sequence[PlatformLoad],
        units: Units,
        spot: tuple[float, float] | None = None,
    ) -> None:
        """Draw the loads of now; rows on which nothing moved are taken as they were.

        ``spot`` (x, y) is marked: a known mass is to stand there.
        """
        self._loads, self._units, self._spot = loads, units, spot
        self._draw()

    def draw(self) -> None:
        """Draw all of it, also what did not move."""
        self._strips = []
        self._draw()

    def _draw(self) -> None:
        width, height = self.size
        if self._loads is None or width < 20 or height < 7:
            return
        canvas, drawn_for = self._ground, (width, height, self._units)
        if canvas is None or self._drawn_for != drawn_for:
            canvas = self._ground = self._draw_ground(width, height)
            self._drawn_for, self._strips = drawn_for, []
        before = canvas.lift()
        if self._layout is not None:
            scale = scale_for(self._layout.deck, width, height - 2)
            left = (width - scale.columns) // 2
            if self._spot is not None:
                x, y = self._spot
                canvas.over(left + scale.column(x), 1 + scale.row(y), SPOT_SIGN, "cop")
            by_name = {load.name: load for load in self._loads}
            for platform in self._layout.platforms:
                load = by_name.get(platform.name)
                if load is not None:
                    _load(canvas, platform, load, scale, left, 1, self._units)
        if not self._strips:
            self._strips = canvas.strips(self._style)
        else:
            self._strips = [
                strip if before[row] == canvas.covers(row) else canvas.strip(row, self._style)
                for row, strip in enumerate(self._strips)
            ]
        self.put(self._strips)

    def _draw_ground(self, width: int, height: int) -> Canvas:
        """Return what does not move: outlines, rubber, directions."""
        canvas = Canvas(width, height)
        if self._layout is None:
            for row, text in enumerate(_NO_LAYOUT):
                canvas.under(1, height // 2 + row, text, "quiet")
            return canvas
        scale = scale_for(self._layout.deck, width, height - 2)
        left, top = (width - scale.columns) // 2, 1
        self._directions(canvas, scale, left, top)
        _outlines(canvas, self._layout.platforms, scale, left, top)
        _rubber(canvas, scale, left, top)
        return canvas

    def _directions(self, canvas: Canvas, scale: Scale, left: int, top: int) -> None:
        above, home = "▲ first-base side", "home plate ▶"
        canvas.under(left, 0, above, "quiet")
        end = _end_of(home, above, canvas, scale, left)
        canvas.under(end - len(home), 0, home, "quiet")
        below = "▼ third-base side"
        canvas.under(left, top + scale.rows, below, "quiet")
        measured = self._layout is not None and self._layout.measures_moments
        unit = self._units.name("N")
        cross = "✚ centre of pressure" if measured else f"░▒▓ tiles' load, {unit}"
        end = _end_of(cross, below, canvas, scale, left)
        if end - len(cross) > left + len(below):
            canvas.under(end - len(cross), top + scale.rows, cross, "quiet")

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"plan--{name}") if name else self.rich_style


def _end_of(text: str, beside: str, canvas: Canvas, scale: Scale, left: int) -> int:
    """Return where ``text`` ends at the right: with the deck, or further on clear of ``beside``."""
    return max(left + scale.columns, min(canvas.columns, left + len(beside) + 2 + len(text)))


def _outlines(
    canvas: Canvas, platforms: Sequence[Platform], scale: Scale, left: int, top: int
) -> None:
    """Draw every platform's edges; where edges meet, the joining character."""
    arms: dict[tuple[int, int], int] = {}
    for platform in platforms:
        a, b, c, d = _cells(platform, scale)
        for row in (c, d):
            for column in range(a, b):
                arms[(column, row)] = arms.get((column, row), 0) | _RIGHT
                arms[(column + 1, row)] = arms.get((column + 1, row), 0) | _LEFT
        for column in (a, b):
            for row in range(c, d):
                arms[(column, row)] = arms.get((column, row), 0) | _DOWN
                arms[(column, row + 1)] = arms.get((column, row + 1), 0) | _UP
    for (column, row), directions in arms.items():
        canvas.under(left + column, top + row, _JOINS[directions], "line")


def _rubber(canvas: Canvas, scale: Scale, left: int, top: int) -> None:
    first, last = scale.column(-RUBBER_M[0]), scale.column(0.0)
    for row in range(scale.row(RUBBER_M[1] / 2), scale.row(-RUBBER_M[1] / 2) + 1):
        canvas.under(left + first, top + row, RUBBER_SIGN * max(1, last - first), "quiet")


def _load(
    canvas: Canvas,
    platform: Platform,
    load: PlatformLoad,
    scale: Scale,
    left: int,
    top: int,
    units: Units,
) -> None:
    a, b, c, d = _cells(platform, scale)
    room = b - a - 1
    number = units.number("N", load.fz)
    if platform.kind is PlatformKind.FORCE:
        shade = next((s for least, s in _SHADES if load.fz >= least), "")
        if shade:
            for row in range(c + 1, d):
                canvas.over(left + a + 1, top + row, shade * room, "load")
            if len(number) <= room:
                row = top + (c + d) // 2
                canvas.over(left + a + 1, row, number.center(room), "ink")
                for edge in (a, b):  # where the rubber lies over it
                    canvas.over(left + edge, row, "│", "line")
        return
    canvas.over(left + a + 2, top + c + 1, platform.name, "quiet")
    # Beside its unit, or above it where they have no room side by side; clear of the rubber.
    name = units.name("N")
    text = number if math.isnan(load.fz) else f"{number} {name}"
    lines = (text,) if len(text) < room else (number, name)
    for row, line in enumerate(lines, c + 2):
        canvas.over(left + a + 1, top + row, f" {line} "[:room], "ink")
    if load.fz >= _UNLOADED_N and load.cop_x is not None and load.cop_y is not None:
        canvas.over(left + scale.column(load.cop_x), top + scale.row(load.cop_y), "✚", "cop")


def _cells(platform: Platform, scale: Scale) -> tuple[int, int, int, int]:
    """Return first and last column, first and last row of a platform."""
    xs, ys = platform.corners[:, 0], platform.corners[:, 1]
    return (
        scale.column(float(xs.min())),
        scale.column(float(xs.max())),
        scale.row(float(ys.max())),
        scale.row(float(ys.min())),
    )


def _clamp(value: int, most: int) -> int:
    return max(0, min(most, value))
