"""The last frames of a feed. Frames that never came are NaN."""

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
        self._store = np.full((capacity, width), np.nan, dtype=dtype)
        self.first = 0
        self.end = 0

    def restart(self, frame: int) -> None:
        """Forget everything; the next row is ``frame``."""
        self.first = self.end = frame

    def append(self, rows: Rows) -> None:
        """Write ``rows`` (n, width) as the next frames."""
        self.end += len(rows)
        kept = rows[-self._capacity :]
        at = (self.end - len(kept)) % self._capacity
        room = self._capacity - at
        self._store[at : at + len(kept)] = kept[:room]
        if len(kept) > room:
            self._store[: len(kept) - room] = kept[room:]
        self.first = max(self.first, self.end - self._capacity)

    def view(self, start: int, end: int) -> Rows:
        """Return frames [start, end), read-only; raise LookupError if not all are kept.

        They are the ring's own memory, or where they run over its end a copy:
        not to be kept while more frames come.
        """
        if not self.first <= start <= end <= self.end:
            raise LookupError(f"frames {start} to {end} are not within {self.first} to {self.end}")
        at = start % self._capacity
        over = at + end - start - self._capacity
        if over <= 0:
            window = self._store[at : at + end - start]
        else:
            window = np.concatenate([self._store[at:], self._store[:over]])
        window.flags.writeable = False
        return window
