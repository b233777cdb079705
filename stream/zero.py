"""The zero in force: learnt from quiet moments of each side of the deck.

A load far below any person's that stays put for a second and pulls straight
down is a thing (a bucket, a tarp) or an offset, and becomes part of the zero.
One that also pushes along the ground is somebody's foot, and a heavier one
might be somebody standing still: neither is learnt unasked. Each side of the
deck has its own zero, so that a thing put down while the pitcher stays on the
other side is learnt too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Protocol

from stream.layout import Array
from stream.movement import STANDARD_GRAVITY

#: How a zero came: not at all yet, taken on purpose, learnt by itself.
NO_ZERO, TAKEN, LEARNT = "none", "taken", "learnt"

QUIET_S = 1.0
#: The zero is a mean over at most this long, so that it does not depend on what came long before.
MEMORY_S = 5.0
#: A thing at rest pushes along the ground less than this share of its weight.
MOST_LEAN = 0.06
#: Steady loads up to this share of the lightest person are things.
THING_SHARE = 0.8
#: Below this share of the lightest person a side is free of people.
FREE_SHARE = 0.25
#: Load that moves this much on one side is a person; what then stays put on the other is none.
MOVING_N = 40.0
#: Rows under the zero that refute it.
REFUTED_ROWS = 2
#: Weights this close, as a share, are the same person's.
SAME_WEIGHT = 0.02
#: A step of the zero that is worth a sentence, N.
STEP_WORTH_TELLING_N = 15.0
#: Row means of a dead load stay within this, or within 4 SD of their noise, N.
LEAST_TOLERANCE_N = 5.0
_LEAST_TOLERANCE_SQUARE = LEAST_TOLERANCE_N**2

#: A row's mean load relative to a zero: vertical, forward, sideways, N.
Load = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Zero:
    """A zero: ``tare`` (channels,) raw units, and what it means on the deck.

    ``drive_z`` to ``lead_y`` are the tare seen through the feet model's online
    rows (N), ``load`` the vertical load that is taken out in all (N); ``noise``
    is the SD of a row's mean of the whole deck (N); ``frame`` is where it came
    into force.
    """

    tare: Array
    drive_z: float
    lead_z: float
    drive_x: float
    lead_x: float
    drive_y: float
    lead_y: float
    noise: float
    frame: int
    kind: str
    load: float = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "load", self.drive_z + self.lead_z)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Frames [start, end) of steady load: the place to take a side's zero from."""

    start: int
    end: int
    noise: float


class ZeroMaker(Protocol):
    """Makes the zero that follows the present one."""

    def from_stretch(self, present: Zero, side: int, stretch: Stretch) -> Zero:
        """Return ``present`` with one side's part read from ``stretch``."""

    def restored(self, present: Zero, earlier: Zero, side: int, frame: int) -> Zero:
        """Return ``present`` with one side's part as it was in ``earlier``."""


class Doubt:
    """Whether what was learnt on one side as a thing was somebody's foot after all.

    A thing cannot weigh less than nothing: a side that reads well under its
    new zero had a foot on it. Nor does a thing make a pitcher lighter.
    """

    def __init__(self) -> None:
        #: The zero to go back to, None where there is nothing to doubt.
        self.before: Zero | None = None
        self._step = 0.0
        # Those before it: somebody who steps on foot by foot is learnt in two steps.
        self._earlier: list[tuple[Zero, float]] = []
        self._below = 0

    def zero_changed(self, before: Zero, step: float) -> None:
        """The side's zero went up by ``step`` N from ``before``; a small step changes nothing."""
        if abs(step) < STEP_WORTH_TELLING_N:
            return
        if step < 0.0:
            self.before, self._step, self._earlier, self._below = None, 0.0, [], 0
            return
        if self.before is not None:
            self._earlier.append((self.before, self._step))
        self.before, self._step, self._below = before, step, 0

    def taken_back(self) -> None:
        """The last step is undone; the one before it may be doubted next."""
        self.before, self._step = self._earlier.pop() if self._earlier else (None, 0.0)
        self._below = 0

    def see(self, vertical: float) -> Zero | None:
        """Take a row's load (N); return the zero to go back to if the present one is refuted."""
        if self.before is None or not vertical < -max(MOVING_N, self._step / 2.0):
            self._below = 0
            return None
        self._below += 1
        return self.before if self._below >= REFUTED_ROWS else None

    def by_weight(self, weight: float, known: float | None) -> Zero | None:
        """Return the zero to go back to if just the step is missing from a ``known`` weight."""
        if self.before is None or known is None or known - weight < self._step / 2.0:
            return None
        same = abs(weight + self._step - known) < SAME_WEIGHT * known
        return self.before if same else None


class ZeroSeeker:
    """Finds the stretches from which one side's zero may be taken; one row at a time."""

    def __init__(self, rate_hz: float, lightest_person_kg: float) -> None:
        self._heaviest_thing = THING_SHARE * lightest_person_kg * STANDARD_GRAVITY
        self._free = FREE_SHARE * lightest_person_kg * STANDARD_GRAVITY
        self._rate = rate_hz
        self.asked = False
        self.first = True
        self.restart()

    def restart(self) -> None:
        """Begin anew: the rows that follow do not join those before."""
        self._rows = 0
        self._start = 0
        self._due_at = math.inf
        # Means over the rows so far.
        self._vertical = self._forward = self._sideways = self._variance = 0.0
        # Loads on the rest of the deck: those not looked at yet, and the extremes of the others.
        self._elsewhere: list[tuple[float, ...]] = []
        self._others_moved = False

    def moved(self, by: Load) -> None:
        """The zero that loads are relative to went up ``by`` N (vertical, forward, sideways)."""
        if self._rows:
            self._vertical -= by[0]
            self._forward -= by[1]
            self._sideways -= by[2]

    def passes(self, vertical: float) -> bool:
        """Whether a row of this load (N) is nothing to it: somebody stands there, as usual."""
        return abs(vertical) > self._heaviest_thing and not (self._rows or self.asked)

    def see(
        self, start: int, end: int, load: Load, noise: float, elsewhere: Load
    ) -> Stretch | None:
        """Take the row over frames [start, end); return a stretch when a new zero is due.

        ``noise`` is the SD of the row's mean (N), ``elsewhere`` the load on the
        rest of the deck. A zero is due after the first quiet second, each time
        the memory is full of new rows, and when quiet ends (the last two rows
        left out: the next load may have begun in them).
        """
        vertical, forward, sideways = load
        if self._rows:
            up, on, across = (
                vertical - self._vertical,
                forward - self._forward,
                sideways - self._sideways,
            )
            most = LEAST_TOLERANCE_N
            if not (-most <= up <= most and -most <= on <= most and -most <= across <= most):
                most = self._tolerance(noise)
                if not (abs(up) <= most and abs(on) <= most and abs(across) <= most):
                    ended = self._due(start - 2 * (end - start), ending=True)
                    self.restart()
                    if ended is not None:
                        return ended
        if not self._is_thing(load, noise) and (not self.asked or math.isnan(vertical)):
            if self._rows:
                self.restart()
            return None
        if not self._rows:
            self._start, self._due_at = start, start + QUIET_S * self._rate
        self._rows += 1
        share = 1.0 / self._rows
        self._vertical += share * (vertical - self._vertical)
        self._forward += share * (forward - self._forward)
        self._sideways += share * (sideways - self._sideways)
        self._variance += share * (noise * noise - self._variance)
        if not self._others_moved:
            self._elsewhere.append(elsewhere)
        return None if end < self._due_at else self._due(end)

    def _is_thing(self, load: Load, noise: float) -> bool:
        """Whether what came on top of the zero may be a thing at rest."""
        vertical, forward, sideways = load
        if not abs(vertical) <= self._heaviest_thing:  # too heavy, or not known
            return False
        lean_square = forward * forward + sideways * sideways
        if lean_square <= _LEAST_TOLERANCE_SQUARE or self.first:
            return True  # before there is any zero the sensors' own offsets lean any way
        most = max(4.0 * noise, MOST_LEAN * abs(vertical))
        return lean_square <= most * most

    def _tolerance(self, noise: float) -> float:
        usual = math.sqrt(self._variance)
        return 4.0 * max(usual, min(noise, 2.0 * usual))

    def _nobody_stands_on_it(self) -> bool:
        """Whether the rest of the deck was free, or bore somebody who moved meanwhile.

        Somebody with a foot on either side cannot move without this side feeling it.
        """
        if self._others_moved:
            return True
        axes = list(zip(*self._elsewhere, strict=True))
        low, high = tuple(map(min, axes)), tuple(map(max, axes))
        self._elsewhere = [low, high]  # they stand for all so far
        if max(-low[0], high[0]) < self._free:
            return True
        self._others_moved = any(h - b > MOVING_N for b, h in zip(low, high, strict=True))
        return self._others_moved

    def _due(self, end: int, *, ending: bool = False) -> Stretch | None:
        if end < (self._start + QUIET_S * self._rate if ending else self._due_at):
            return None
        if not (self.asked or self._nobody_stands_on_it()):
            return None
        self._due_at = end + MEMORY_S * self._rate
        self.asked = self.first = False
        start = max(self._start, end - round(MEMORY_S * self._rate))
        return Stretch(start, end, math.sqrt(self._variance))
