"""Quiet standing: where a body weight comes from, and the start of every delivery."""

from __future__ import annotations

import math
from collections import deque

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


class Window:
    """The last ``length`` levels with their sums, each kept up in one step a level.

    ``square`` is the sum of squares; ``ramp`` that of each level times its
    place, 0 for the oldest.
    """

    def __init__(self, length: int) -> None:
        self._length = length
        self._levels: deque[float] = deque()
        self.clear()

    def clear(self) -> None:
        """Forget every level."""
        self._levels.clear()
        self.total = self.square = self.ramp = 0.0

    def push(self, level: float) -> None:
        """Take the next level; the oldest leaves a full window."""
        levels = self._levels
        if len(levels) == self._length:
            oldest = levels.popleft()
            self.total -= oldest
            self.square -= oldest * oldest
            self.ramp -= self.total
        self.ramp += len(levels) * level
        self.total += level
        self.square += level * level
        levels.append(level)

    def shift(self, by: float) -> None:
        """Every level goes up by ``by``."""
        shifted = [level + by for level in self._levels]
        self.clear()
        for level in shifted:
            self.push(level)

    @property
    def full(self) -> bool:
        """Whether it holds as many levels as it can."""
        return len(self._levels) == self._length


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
        self._window = Window(self._length)
        self.restart()

    def restart(self) -> None:
        """Forget what was seen."""
        self._window.clear()
        self._start: int | None = None
        self._sum = 0.0
        self._count = 0

    def shift(self, by: float) -> None:
        """The zero that loads are relative to went down by ``by`` N."""
        self._window.shift(by)
        self._sum += by * self._count

    def see(self, row: Row, zero_load: float, noise: float) -> Stance | None:
        """Take one row; return the stance so far if the deck is in one now."""
        load = row.drive_z + row.lead_z - zero_load
        if not load > self._least_load:
            self.restart()
            return None
        self._window.push(load)
        if not (self._window.full and self._is_quiet(noise)):
            self._start = None
            return None
        if self._start is None:
            self._start = row.end - self._length * (row.end - row.start)
            self._sum = self._window.total
            self._count = self._length
        else:
            self._sum += load
            self._count += 1
        if row.end - self._start < LEAST_S / ROW_S * (row.end - row.start):
            return None
        return Stance(self._start, row.end, self._sum / self._count)

    def _is_quiet(self, noise: float) -> bool:
        window, n = self._window, self._length
        mean = window.total / n
        allowed = math.hypot(self._allowed * mean, noise)
        if not window.square / n - mean * mean < allowed * allowed:
            return False
        trend = (window.ramp - 0.5 * (n - 1) * window.total) * 12.0 / (n * (n + 1))
        return abs(trend) < TREND_SDS * allowed
