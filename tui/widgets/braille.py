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

#: What stands in some cells of a row: character and name of its style, by column.
Cells = dict[int, tuple[str, str]]


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
        self._under: list[Cells] = [{} for _ in range(rows)]
        self._over: list[Cells] = [{} for _ in range(rows)]

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

    def lift(self) -> list[Cells]:
        """Take off all that covers; return it, a row each."""
        taken, self._over = self._over, [{} for _ in range(self.rows)]
        return taken

    def covers(self, row: int) -> Cells:
        """Return what covers ``row``."""
        return self._over[row]

    def _put(self, layer: list[Cells], column: int, row: int, text: str, style: str) -> None:
        if 0 <= row < self.rows:
            cells = layer[row]
            for offset, character in enumerate(text):
                if 0 <= column + offset < self.columns:
                    cells[column + offset] = (character, style)

    def strips(self, style_of: StyleOf) -> list[Strip]:
        """Return the rows, top first."""
        return [self.strip(row, style_of) for row in range(self.rows)]

    def strip(self, row: int, style_of: StyleOf) -> Strip:
        """Return one row."""
        over, under = self._over[row], self._under[row]
        bits = self._bits[row].tolist()
        styles = self._style[row].tolist()
        runs: list[tuple[str, list[str]]] = []
        for column in range(self.columns):
            if column in over:
                character, style = over[column]
            elif bits[column]:
                character, style = chr(_BLANK + bits[column]), self._styles[styles[column]]
            elif column in under:
                character, style = under[column]
            else:
                character, style = " ", ""
            if runs and runs[-1][0] == style:
                runs[-1][1].append(character)
            else:
                runs.append((style, [character]))
        return Strip([Segment("".join(t), style_of(s)) for s, t in runs], self.columns)


def dot_rows(mask: Bools) -> list[str]:
    """Return the dots ``mask`` (rows * 4, columns * 2) as rows of braille characters."""
    rows, columns = mask.shape[0] // 4, mask.shape[1] // 2
    bits = (mask.reshape(rows, 4, columns, 2) * _BITS[None, :, None, :]).sum(axis=(1, 3))
    codes = (bits + _BLANK).astype("<u4")
    # Some fonts draw the blank braille character as rings.
    return [row.tobytes().decode("utf-32-le").replace(chr(_BLANK), " ") for row in codes]


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
    # A column owns its samples and both its edges, so strokes join.
    spans = np.column_stack([bounds[:-1], bounds[1:] + 1]).ravel()
    level = np.append(level, np.nan)
    out[0] = np.rint(np.fmin.reduceat(level, spans)[::2])
    out[1] = np.rint(np.fmax.reduceat(level, spans)[::2])
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
