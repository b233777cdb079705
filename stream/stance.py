"""Quiet standing: where a body weight comes from, and the start of every delivery."""

from __future__ import annotations

import math
from collections import deque
from operator import mul

import msgspec

from stream.movement import STANDARD_GRAVITY
from stream.rows import ROW_S, Row
from stream.settings import Settings

WINDOW_S = 0.5
LEAST_S = 1.0
#: No trend: the fitted change over the window stays under this many allowed SDs.
TREND_SDS = 3.0


class Stance(msgspec.Struct, frozen=True, gc=False):
    """Quiet standing over frames [start, end); ``load`` its mean vertical force, N."""

    start: int
    end: int
    load: float


class StanceSeeker:
    """Tells quiet standing from rows, one at a time.

    Quiet is: over 0.5 s the SD of the 50 ms means of the whole deck's vertical
    force is under 1.5 % of their mean (what the deck's own noise adds is
    allowed for) and they have no trend. A stance is quiet for at least 1 s.
    """

    def __init__(self, settings: Settings) -> None:
        self._allowed = settings.quiet_sd
        self._least_load = 0.9 * settings.lightest_person_kg * STANDARD_GRAVITY
        self._length = round(WINDOW_S / ROW_S)
        self._window: deque[float] = deque(maxlen=self._length)
        self._ramp = [i - (self._length - 1) / 2.0 for i in range(self._length)]
        self.restart()

    def restart(self) -> None:
        """Forget what was seen."""
        self._window.clear()
        self._start: int | None = None
        self._end = 0
        self._sum = 0.0
        self._count = 0

    def shift(self, by: float) -> None:
        """The zero that loads are relative to went down by ``by`` N."""
        shifted = [load + by for load in self._window]
        self._window.clear()
        self._window.extend(shifted)
        self._sum += by * self._count

    def see(self, row: Row, zero_load: float, noise: float) -> Stance | None:
        """Take one row; return the stance so far if the deck is in one now."""
        load = row.drive_z + row.lead_z - zero_load
        if not load > self._least_load:
            self.restart()
            return None
        self._window.append(load)
        if len(self._window) < self._length or not self._is_quiet(noise):
            self._start = None
            return None
        if self._start is None:
            self._start = row.end - self._length * (row.end - row.start)
            self._sum = sum(self._window)
            self._count = self._length
        else:
            self._sum += load
            self._count += 1
        if row.end - self._start < LEAST_S / ROW_S * (row.end - row.start):
            return None
        return Stance(self._start, row.end, self._sum / self._count)

    def _is_quiet(self, noise: float) -> bool:
        levels, n = self._window, self._length
        mean = sum(levels) / n
        allowed = math.hypot(self._allowed * mean, noise)
        if max(levels) - min(levels) > 6.0 * allowed:
            return False
        off = [level - mean for level in levels]
        if not sum(map(mul, off, off)) < n * allowed * allowed:
            return False
        trend = float(sum(map(mul, self._ramp, levels))) * 12.0 / (n * (n + 1))
        return abs(trend) < TREND_SDS * allowed
