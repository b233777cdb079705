"""Quiet standing: where a body weight comes from, and the start of every delivery."""

from __future__ import annotations

from collections import deque

import msgspec

from stream.movement import STANDARD_GRAVITY
from stream.rows import ROW_S, Row
from stream.settings import Settings

WINDOW_S = 0.5
LEAST_S = 1.0
_WINDOW_ROWS = round(WINDOW_S / ROW_S)
_LEAST_ROWS = round(LEAST_S / ROW_S)
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
        self._loads = deque[float]()
        self.restart()

    def restart(self) -> None:
        """Forget what was seen."""
        self._loads.clear()
        # Of the loads in the window: their sum, that of their squares, and that of each times its
        # place (0 for the oldest), each kept up in one step a row.
        self._total = self._square = self._ramp = 0.0
        self._start: int | None = None
        self._sum = 0.0
        self._count = 0

    def shift(self, by: float) -> None:
        """The zero that loads are relative to went down by ``by`` N."""
        loads = [load + by for load in self._loads]
        self._total = sum(loads)
        self._square = sum(load * load for load in loads)
        self._ramp = sum(place * load for place, load in enumerate(loads))
        self._loads = deque(loads)
        self._sum += by * self._count

    def see(self, row: Row, zero_load: float, noise: float) -> Stance | None:
        """Take one row; return the stance so far if the deck is in one now."""
        load = row.drive_z + row.lead_z - zero_load
        if not load > self._least_load:
            if self._loads:
                self.restart()
            return None
        loads, length = self._loads, _WINDOW_ROWS
        if len(loads) == length:
            oldest = loads.popleft()
            self._total -= oldest
            self._square -= oldest * oldest
            self._ramp -= self._total
        self._ramp += len(loads) * load
        self._total += load
        self._square += load * load
        loads.append(load)
        if not (len(loads) == length and self._is_quiet(noise)):
            self._start = None
            return None
        if self._start is None:
            self._start = row.end - length * (row.end - row.start)
            self._sum = self._total
            self._count = length
        else:
            self._sum += load
            self._count += 1
        if self._count < _LEAST_ROWS:
            return None
        return Stance(self._start, row.end, self._sum / self._count)

    def _is_quiet(self, noise: float) -> bool:
        n = _WINDOW_ROWS
        mean = self._total / n
        allowed = self._allowed * mean
        variance = allowed * allowed + noise * noise
        if not self._square / n - mean * mean < variance:
            return False
        trend = (self._ramp - 0.5 * (n - 1) * self._total) * 12.0 / (n * (n + 1))
        return trend * trend < TREND_SDS * TREND_SDS * variance
