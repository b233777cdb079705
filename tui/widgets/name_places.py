"""Where names stand on a canvas: near what they name, over no other text, off lines if they can."""

from __future__ import annotations

import numpy as np

from tui.widgets.braille import Array, Bools, Canvas

#: Cells between a name and its anchor that read well.
_GAP = 2
#: What a place costs: a row away, a cell of a line covered, the other side of the anchor.
_ROW, _LINE, _SIDE = 3.0, 25.0, 4.0


def cells_of(mask: Bools) -> Bools:
    """Return which cells (rows, columns) have a dot of ``mask`` (rows * 4, columns * 2)."""
    rows, columns = mask.shape[0] // 4, mask.shape[1] // 2
    return np.asarray(mask.reshape(rows, 4, columns, 2).any(axis=(1, 3)))


class NamePlaces:
    """Puts names on a canvas whose other text stands already.

    ``lines`` (rows, columns) are the cells of lines; ``rows`` the first row
    that names may take and the first below them that they may not.
    """

    def __init__(self, canvas: Canvas, lines: Bools, rows: tuple[int, int] | None = None) -> None:
        self._canvas = canvas
        self._lines = lines
        self._taken = np.ones((canvas.rows, canvas.columns), dtype=bool)
        first, after = rows or (0, canvas.rows)
        self._taken[first:after] = False
        for row in range(canvas.rows):
            self._taken[row, list(canvas.covers(row))] = True

    def put(self, text: str, style: str, column: int, row: int, *, before: bool) -> bool:
        """Write ``text`` near an anchor, never on it; return False where there is no room.

        ``before`` prefers the left side.
        """
        length, columns = len(text), self._canvas.columns
        if length > columns:
            return False
        start = np.arange(columns - length + 1)
        last = start + length - 1
        gap = np.maximum(np.maximum(start - column, column - last), 0)
        # A cell is kept free at both ends, so that names do not run together.
        wide = np.pad(self._taken, ((0, 0), (1, 1)))
        cost = np.abs(gap - _GAP) + np.where((last < column) == before, 0.0, _SIDE)
        costs = cost + _ROW * np.abs(np.arange(self._canvas.rows) - row)[:, None]
        costs = costs + _LINE * _sums(self._lines, length)
        costs[_sums(wide, length + 2) > 0] = np.inf
        if 0 <= row < self._canvas.rows:
            costs[row, (start <= column) & (column <= last)] = np.inf
        at = np.unravel_index(int(np.argmin(costs)), costs.shape)
        if not np.isfinite(costs[at]):
            return False
        found_row, found = int(at[0]), int(at[1])
        self._canvas.over(found, found_row, text, style)
        self._taken[found_row, found : found + length] = True
        return True


def _sums(cells: Bools, length: int) -> Array:
    """Return how many of ``length`` cells from each on are set, (rows, columns - length + 1)."""
    run = np.pad(np.cumsum(cells, axis=1, dtype=np.float64), ((0, 0), (1, 0)))
    return np.asarray(run[:, length:] - run[:, :-length])
