"""The zero in force: learnt from quiet moments of an empty deck.

A load far below any person's that stays put for a second and pulls straight
down is a thing (a bucket, a tarp) or an offset, and becomes part of the zero.
One that also pushes along the ground is somebody's foot, and a heavier one
might be somebody standing still: neither is learnt unasked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stream.layout import Array
from stream.movement import STANDARD_GRAVITY
from stream.rows import Row

#: How a zero came: not at all yet, taken on purpose, learnt by itself.
NO_ZERO, TAKEN, LEARNT = "none", "taken", "learnt"

QUIET_S = 1.0
#: The zero is a mean over at most this long, so that it does not depend on what came long before.
MEMORY_S = 5.0
#: A thing at rest pushes along the ground less than this share of its weight.
MOST_LEAN = 0.06
#: Steady loads up to this share of the lightest person are things.
THING_SHARE = 0.8
#: A step of the zero that is worth a sentence, N.
STEP_WORTH_TELLING_N = 15.0
#: Row means of a dead load stay within this, or within 4 SD of their noise, N.
LEAST_TOLERANCE_N = 5.0


@dataclass(frozen=True, eq=False)
class Zero:
    """A zero: ``tare`` (channels,) raw units, and what it means on the deck.

    ``drive``, ``lead``, ``forward``, ``sideways``, ``braking`` are the tare
    seen through the feet model's online rows (N); ``noise`` is the SD of a row's mean (N) seen
    meanwhile; ``frame`` is where it came into force.
    """

    tare: Array
    drive: float
    lead: float
    forward: float
    sideways: float
    braking: float
    noise: float
    frame: int
    kind: str

    @property
    def load(self) -> float:
        """Vertical load that this zero takes out, N."""
        return self.drive + self.lead


@dataclass(frozen=True, slots=True)
class Stretch:
    """Frames [start, end) of steady load: the place to take a zero from; ``noise`` as in Zero."""

    start: int
    end: int
    noise: float


class ZeroSeeker:
    """Finds the stretches from which a zero may be taken; one row at a time."""

    def __init__(self, rate_hz: float, lightest_person_kg: float) -> None:
        self._heaviest_thing = THING_SHARE * lightest_person_kg * STANDARD_GRAVITY
        self._rate = rate_hz
        self.asked = False
        self.restart()

    def restart(self) -> None:
        """Begin anew: the rows that follow do not join those before."""
        self._start: int | None = None
        self._rows = 0
        self._mean = 0.0
        self._variance = 0.0
        self._told_rows = 0

    def see(self, row: Row, zero: Zero) -> Stretch | None:
        """Take one row; return a stretch when a new zero is due.

        That is after the first quiet second, each time the memory is full of
        new rows, and when quiet ends (the last two rows left out: the next
        load may have begun in them).
        """
        load = row.drive + row.lead
        noise = row.spread / math.sqrt(row.end - row.start)
        if self._start is not None and not self._joins(load, noise):
            ended = self._due(row.start - 2 * (row.end - row.start), ending=True)
            self.restart()
            if ended is not None:
                return ended
        if math.isnan(load) or not (self.asked or self._is_thing(row, noise, zero)):
            self.restart()
            return None
        if self._start is None:
            self._start = row.start
        self._rows += 1
        self._mean += (load - self._mean) / self._rows
        self._variance += (noise * noise - self._variance) / self._rows
        return self._due(row.end, ending=False)

    def _is_thing(self, row: Row, noise: float, zero: Zero) -> bool:
        """Whether what came on top of the zero may be a thing at rest."""
        load = abs(row.drive + row.lead - zero.load)
        lean = math.hypot(row.forward - zero.forward, row.sideways - zero.sideways)
        rests = lean <= max(LEAST_TOLERANCE_N, 4.0 * noise, MOST_LEAN * load)
        # Before there is any zero the sensors' own offsets lean any way.
        return load <= self._heaviest_thing and (rests or zero.kind == NO_ZERO)

    def _joins(self, load: float, noise: float) -> bool:
        usual = math.sqrt(self._variance)
        tolerance = max(LEAST_TOLERANCE_N, 4.0 * max(usual, min(noise, 2.0 * usual)))
        return abs(load - self._mean) <= tolerance

    def _due(self, end: int, *, ending: bool) -> Stretch | None:
        assert self._start is not None
        fresh = self._rows - self._told_rows
        length = end - self._start
        if length < QUIET_S * self._rate:
            return None
        first_time = self._told_rows == 0
        row_frames = length / self._rows
        if not (first_time or ending or fresh * row_frames >= MEMORY_S * self._rate):
            return None
        self._told_rows = self._rows
        self.asked = False
        start = max(self._start, end - round(MEMORY_S * self._rate))
        return Stretch(start, end, math.sqrt(self._variance))
