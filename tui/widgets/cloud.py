"""Points, means and lines of a study, and estimates with their intervals, in the terminal.

Points are dots, means rings; lines differ by their pattern and carry their
name, so that none needs its colour.
"""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np
from rich.cells import set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from analysis.study.points import Cloud, Intervals, Line
from tui.widgets.braille import Array, Bools, Canvas, curve_levels, line_mask

_GUTTER = 9
#: Dot columns drawn and left out in turn, for each line in order.
_PATTERNS = ((1, 0), (3, 2), (1, 2), (5, 3), (2, 4))
_SAMPLES = ("━━━", "╍╍╍", "┄┄┄", "━ ━", "┈┈┈")
_LINE_STYLES = ("drive", "lead", "mark", "ink", "quiet")
_MARGIN = 0.04


class ShapePlot(Widget):
    """Draws one :class:`Cloud` or :class:`Intervals`."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "shape--ink",
        "shape--quiet",
        "shape--line",
        "shape--drive",
        "shape--lead",
        "shape--mark",
    }
    DEFAULT_CSS = """
    ShapePlot {
        height: 16;
        & > .shape--ink { color: $ink; text-style: bold; }
        & > .shape--quiet { color: $quiet; }
        & > .shape--line { color: $line; }
        & > .shape--drive { color: $drive; }
        & > .shape--lead { color: $lead; }
        & > .shape--mark { color: $mark; }
    }
    """

    def __init__(self, shape: Cloud | Intervals) -> None:
        super().__init__()
        self.shape = shape
        self._strips: list[Strip] = []
        if isinstance(shape, Intervals):
            self.styles.height = len(shape.rows) + 3

    def notify_style_update(self) -> None:
        """Colours changed: draw anew."""
        super().notify_style_update()
        self._strips = []

    def render_line(self, y: int) -> Strip:
        """Draw row ``y``; the picture is made once for a size."""
        width, height = self.size
        if len(self._strips) != height or self._strips[0].cell_length != width:
            strips = (
                self._intervals(self.shape, width)
                if isinstance(self.shape, Intervals)
                else self._cloud(self.shape, width, height)
            )
            blank = Strip.blank(width, self.rich_style)
            self._strips = [*strips, *[blank] * height][:height]
        return self._strips[y]

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"shape--{name}") if name else self.rich_style

    def _text(self, text: str, style: str, width: int) -> Strip:
        shown = text if len(text) <= width else set_cell_size(text, max(0, width - 1)) + "…"
        return Strip([Segment(shown, self._style(style))]).adjust_cell_length(
            width, self.rich_style
        )

    # Points and lines

    def _cloud(self, cloud: Cloud, width: int, height: int) -> list[Strip]:
        columns, rows = width - _GUTTER, height - 4
        if columns < 12 or rows < 4:
            return [self._text("Too little room for the plot.", "quiet", width)]
        x_range = _range([cloud.x, *(line.x for line in cloud.lines)])
        y_range = _range([cloud.y, *(line.y for line in cloud.lines)])
        canvas = Canvas(columns, rows)
        levels = {
            value: _cell(value, y_range, rows, down=True)
            for value in _ticks(y_range, max(2, rows // 3))
        }
        for value, row in levels.items():
            sign = "─" if value == 0 else "┈"
            canvas.under(0, row, sign * columns, "line")
        canvas.dots(_dots(cloud.x, cloud.y, x_range, y_range, columns, rows), "quiet")
        for index, line in enumerate(cloud.lines):
            canvas.dots(_line(line, index, columns, rows, x_range, y_range), _line_style(index))
        for x, y in zip(*(cloud.rings or ((), ())), strict=True):
            canvas.over(_cell(x, x_range, columns), _cell(y, y_range, rows, down=True), "○", "ink")
        labels = {row: _short(value) for value, row in levels.items()}
        plotted = [
            Strip.join([self._text(labels.get(r, "").rjust(_GUTTER - 1), "quiet", _GUTTER), strip])
            for r, strip in enumerate(canvas.strips(self._style))
        ]
        return [
            self._text(cloud.title, "ink", width),
            self._legend(cloud, width),
            *plotted,
            self._x_axis(x_range, columns),
            self._text(" " * _GUTTER + cloud.x_label, "quiet", width),
        ]

    def _legend(self, cloud: Cloud, width: int) -> Strip:
        segments = [Segment(f"{cloud.y_label}  ", self._style("quiet"))]
        for index, line in enumerate(cloud.lines):
            if line.name:
                sample = _SAMPLES[index % len(_SAMPLES)]
                segments.append(Segment(f" {sample} {line.name} ", self._style(_line_style(index))))
        return Strip(segments).adjust_cell_length(width, self.rich_style)

    def _x_axis(self, x_range: tuple[float, float], columns: int) -> Strip:
        canvas = Canvas(columns, 1)
        for value in _ticks(x_range, max(2, columns // 12)):
            text = _short(value)
            start = _cell(value, x_range, columns) - len(text) // 2
            canvas.under(max(0, min(columns - len(text), start)), 0, text, "quiet")
        return Strip.join([self._text("", "quiet", _GUTTER), canvas.strip(0, self._style)])

    # Estimates

    def _intervals(self, shape: Intervals, width: int) -> list[Strip]:
        names = max((len(row.name) for row in shape.rows), default=0) + 2
        written = {r.name: f" {r.estimate:.3g} ({r.low:.3g} to {r.high:.3g})" for r in shape.rows}
        values = max((len(text) for text in written.values()), default=0)
        columns = width - names - values
        if not shape.rows or columns < 12:
            rows = [self._text(f"{r.name}{written[r.name]}", "ink", width) for r in shape.rows]
            return [self._text(shape.title, "ink", width), *rows]
        ends = np.array([0.0, *(v for r in shape.rows for v in (r.low, r.high))])
        scale = _range([ends])
        strips = [self._text(f"{shape.title}, 95 % intervals", "ink", width)]
        for row in shape.rows:
            canvas = Canvas(columns, 1)
            low, middle, high = (
                _cell(v, scale, columns) for v in (row.low, row.estimate, row.high)
            )
            canvas.under(_cell(0.0, scale, columns), 0, "┊", "line")
            canvas.over(low, 0, "├" + "─" * (high - low - 1) + "┤", "drive")
            canvas.over(middle, 0, "■", "ink")
            strips.append(
                Strip.join(
                    [
                        self._text(row.name, "ink", names),
                        canvas.strip(0, self._style),
                        self._text(written[row.name], "ink", values),
                    ]
                )
            )
        axis = Canvas(columns, 1)
        axis.under(_cell(0.0, scale, columns), 0, "0", "quiet")
        strips.append(Strip.join([self._text("", "quiet", names), axis.strip(0, self._style)]))
        return strips


def _line_style(index: int) -> str:
    return _LINE_STYLES[index % len(_LINE_STYLES)]


def _range(parts: list[Array]) -> tuple[float, float]:
    values = np.concatenate(parts)
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)
    margin = _MARGIN * (high - low) or 1.0
    return low - margin, high + margin


def _ticks(span: tuple[float, float], most: int) -> list[float]:
    """Return round values within ``span``: steps of 1, 2 or 5 times a power of ten."""
    low, high = span
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(f * power for f in (1, 2, 5, 10) if (high - low) / (f * power) <= most)
    return [i * step for i in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _short(value: float) -> str:
    return f"{value:.5g}"


def _cell(value: float, span: tuple[float, float], cells: int, down: bool = False) -> int:
    share = (value - span[0]) / (span[1] - span[0])
    return max(0, min(cells - 1, int((1.0 - share if down else share) * cells)))


def _dots(
    x: Array,
    y: Array,
    x_range: tuple[float, float],
    y_range: tuple[float, float],
    columns: int,
    rows: int,
) -> Bools:
    mask = np.zeros((rows * 4, columns * 2), dtype=np.bool_)
    across = (x - x_range[0]) / (x_range[1] - x_range[0]) * (columns * 2 - 1)
    up = (y - y_range[0]) / (y_range[1] - y_range[0]) * (rows * 4 - 1)
    mask[rows * 4 - 1 - np.rint(up).astype(int), np.rint(across).astype(int)] = True
    return mask


def _line(
    line: Line,
    index: int,
    columns: int,
    rows: int,
    x_range: tuple[float, float],
    y_range: tuple[float, float],
) -> Bools:
    drawn, left_out = _PATTERNS[index % len(_PATTERNS)]
    levels = curve_levels(columns, rows, line.x, line.y, x_range, y_range)
    shown = np.arange(columns * 2) % (drawn + left_out) < drawn
    return np.asarray(line_mask(levels, rows) & shown[None, :])
