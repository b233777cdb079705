"""Drawing in braille dots: two across and four down in every cell of the terminal."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: Bit of each dot in a braille character (Unicode chapter 21.1), [row][column].
_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.uint16)
_BLANK = 0x2800


class StyleOf(Protocol):
    """Looks up a style by its name."""

    def __call__(self, name: str) -> Style:
        """Return the style."""
        ...


class Canvas:
    """A grid of cells; dots and characters are put on it, rows come off as strips.

    What is put later lies on top: its style wins the cell, the dots of both
    stay. Characters fill only cells that have no dots when rows come off.
    """

    def __init__(self, columns: int, rows: int) -> None:
        self.columns = columns
        self.rows = rows
        self._bits = np.zeros((rows, columns), dtype=np.uint16)
        self._styles: list[str] = [""]
        self._style = np.zeros((rows, columns), dtype=np.int16)
        self._under: dict[tuple[int, int], tuple[str, str]] = {}
        self._over: dict[tuple[int, int], tuple[str, str]] = {}

    def dots(self, mask: Bools, style: str) -> None:
        """Put dots where ``mask`` (rows * 4, columns * 2) is true."""
        cells = mask.reshape(self.rows, 4, self.columns, 2)
        bits = (cells * _BITS[None, :, None, :]).sum(axis=(1, 3)).astype(np.uint16)
        self._bits |= bits
        self._styles.append(style)
        self._style[bits > 0] = len(self._styles) - 1

    def under(self, column: int, row: int, text: str, style: str) -> None:
        """Put characters that show only where there are no dots (grids, marks)."""
        self._put(self._under, column, row, text, style)

    def over(self, column: int, row: int, text: str, style: str) -> None:
        """Put characters that cover the dots (names)."""
        self._put(self._over, column, row, text, style)

    def _put(
        self,
        layer: dict[tuple[int, int], tuple[str, str]],
        column: int,
        row: int,
        text: str,
        style: str,
    ) -> None:
        for offset, character in enumerate(text):
            if 0 <= column + offset < self.columns and 0 <= row < self.rows:
                layer[(row, column + offset)] = (character, style)

    def strips(self, style_of: StyleOf) -> list[Strip]:
        """Return the rows, top first."""
        return [self._strip(row, style_of) for row in range(self.rows)]

    def _strip(self, row: int, style_of: StyleOf) -> Strip:
        bits = self._bits[row].tolist()
        styles = self._style[row].tolist()
        runs: list[tuple[str, list[str]]] = []
        for column in range(self.columns):
            key = (row, column)
            if key in self._over:
                character, style = self._over[key]
            elif bits[column]:
                character, style = chr(_BLANK + bits[column]), self._styles[styles[column]]
            elif key in self._under:
                character, style = self._under[key]
            else:
                character, style = " ", ""
            if runs and runs[-1][0] == style:
                runs[-1][1].append(character)
            else:
                runs.append((style, [character]))
        return Strip([Segment("".join(t), style_of(s)) for s, t in runs], self.columns)


def curve_levels(
    columns: int,
    rows: int,
    x: Array,
    y: Array,
    x_range: tuple[float, float],
    y_range: tuple[float, float],
) -> Array:
    """Return the highest and lowest dot row of a curve in each dot column, (2, columns * 2).

    Every dot column covers the curve from its least to its greatest value
    there, so a peak is never lost between columns. NaN where there is none.
    """
    width, height = columns * 2, rows * 4
    out = np.full((2, width), np.nan)
    if x.size < 2:
        return out
    edges = np.linspace(x_range[0], x_range[1], width + 1)
    fine = np.unique(np.concatenate([x[(x >= x_range[0]) & (x <= x_range[1])], edges]))
    values = np.interp(fine, x, y, left=np.nan, right=np.nan)
    scale = (height - 1) / (y_range[1] - y_range[0])
    level = np.clip((height - 1) - (values - y_range[0]) * scale, 0, height - 1)
    bounds = np.searchsorted(fine, edges)
    for c in range(width):
        # A column owns its samples and both its edges, so strokes join.
        here = level[bounds[c] : bounds[c + 1] + 1]
        here = here[np.isfinite(here)]
        if here.size:
            out[:, c] = np.rint((here.min(), here.max()))
    return out


def line_mask(levels: Array, rows: int) -> Bools:
    """Return the dots of a curve, (rows * 4, dot columns)."""
    dot = np.arange(rows * 4)[:, None]
    return np.asarray((dot >= levels[0]) & (dot <= levels[1]))


def ground_mask(levels: Array, rows: int, y_range: tuple[float, float]) -> Bools:
    """Return a sparse pattern of dots between a curve and zero."""
    height = rows * 4
    zero = (height - 1) * (1.0 + y_range[0] / (y_range[1] - y_range[0]))
    dot = np.arange(height)[:, None]
    between = (dot >= np.fmin(levels[0], zero)) & (dot <= np.fmax(levels[1], zero))
    column = np.arange(levels.shape[1])[None, :]
    pattern = (dot % 2 == 0) & ((column + dot) % 4 == 0)
    return np.asarray(between & pattern & np.isfinite(levels[0]))
