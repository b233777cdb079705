"""The last frames of a feed, kept so that any recent window is one contiguous view.

Every row is written twice, a capacity apart, so that no read ever wraps and
nothing is moved in memory. Frames that never came are NaN.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Rows = npt.NDArray[Any]


class Ring:
    """Rows of the last ``capacity`` frames by absolute frame index."""

    def __init__(self, capacity: int, width: int, dtype: npt.DTypeLike) -> None:
        self._capacity = capacity
        self.width = width
        self._store = np.full((2 * capacity, width), np.nan, dtype=dtype)
        self.first = 0
        self.end = 0

    def restart(self, frame: int) -> None:
        """Forget everything; the next row is ``frame``."""
        self.first = self.end = frame

    def append(self, rows: Rows) -> None:
        """Write ``rows`` (n, width) as the next frames."""
        self.end += len(rows)
        kept = rows[-self._capacity :]
        self._write(self.end - len(kept), kept)
        self.first = max(self.first, self.end - self._capacity)

    def view(self, start: int, end: int) -> Rows:
        """Return frames [start, end) as a read-only view; raise LookupError if not all are kept."""
        if not self.first <= start <= end <= self.end:
            raise LookupError(f"frames {start} to {end} are not within {self.first} to {self.end}")
        at = start % self._capacity
        window = self._store[at : at + end - start]
        window.flags.writeable = False
        return window

    def _write(self, frame: int, rows: Rows) -> None:
        at = frame % self._capacity
        room = self._capacity - at
        for offset in (0, self._capacity):
            self._store[at + offset : at + offset + min(room, len(rows))] = rows[:room]
        if len(rows) > room:
            for offset in (0, self._capacity):
                self._store[offset : offset + len(rows) - room] = rows[room:]
