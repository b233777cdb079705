"""A session on one continuous time line: what the deck feels, and what is true of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from simulators.contacts import Contact
from simulators.deck import Plates
from simulators.pitcher import Delivery
from simulators.sensor import Imperfections, Sensor
from simulators.truth import Truth, measure
from stream.layout import Layout
from stream.outputs import NotCountedReason
from stream.roster import Roster

RATE_HZ = 200.0


@dataclass(frozen=True, eq=False)
class Thrown:
    """A pitch of the session: ``start`` s is where its own time line begins."""

    number: int
    start: float
    delivery: Delivery
    speed_mps: float | None

    @property
    def contact(self) -> float:
        """Foot contact on the session's time line, s (to the model's own 10 %)."""
        return self.start + self.delivery.contact

    def truth(self) -> Truth:
        """Return what is true of it, computed anew."""
        return measure(self.delivery)


@dataclass(frozen=True, slots=True)
class NotAPitch:
    """A movement like a delivery that must not be counted; ``time`` s is its main moment."""

    time: float
    reason: NotCountedReason
    activity: str


@dataclass(frozen=True, slots=True)
class Chosen:
    """From ``time`` s on, ``pitcher`` (a code) throws."""

    time: float
    pitcher: str


@dataclass(frozen=True, slots=True)
class SpeedTold:
    """At ``time`` s the radar tells the ball's speed."""

    time: float
    speed_mps: float


@dataclass(frozen=True, eq=False)
class Scenario:
    """An invented session. ``contacts`` are in the order of their starts."""

    seed: int
    note: str
    roster: Roster
    duration: float
    contacts: Sequence[Contact]
    pitches: Sequence[Thrown] = ()
    not_pitches: Sequence[NotAPitch] = ()
    chosen: Sequence[Chosen] = ()
    speeds: Sequence[SpeedTold] = ()

    def render(
        self,
        layout: Layout,
        imperfections: Imperfections | None = None,
        rate_hz: float = RATE_HZ,
        block: int = 2000,
        start_offset: float = 0.0,
    ) -> Iterator[tuple[int, npt.NDArray[np.float32]]]:
        """Yield (first frame, samples (n, channels) float32) from the start to the end.

        Frame k is taken at ``start_offset`` + k / ``rate_hz`` s, the true rate.
        The readings do not depend on ``block``.
        """
        plates = Plates(layout)
        sensor = Sensor(layout, imperfections or Imperfections(), self.seed)
        frames = int(np.floor((self.duration - start_offset) * rate_hz))
        waiting = list(self.contacts)[::-1]
        active: list[Contact] = []
        for first in range(0, frames, block):
            count = min(block, frames - first)
            t = start_offset + (first + np.arange(count)) / rate_hz
            while waiting and waiting[-1].start <= t[-1]:
                active.append(waiting.pop())
            yield first, sensor.read(plates.read(active, t), t)
            active = [c for c in active if c.end > t[-1]]


def in_order(contacts: Sequence[Contact]) -> tuple[Contact, ...]:
    """Return ``contacts`` in the order of their starts."""
    return tuple(sorted(contacts, key=lambda c: c.start))
