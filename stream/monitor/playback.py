"""A recording played into a screen's link, as a monitor would have fed it.

:class:`Player` keeps the time, the cores of :class:`Mounds` measure, the link
shows; this module turns keys (pause, speed, step, jump) into their calls. It
works in short turns, so that a screen in the same loop stays quick.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

from stream.monitor.view import LocalLink
from stream.outputs import NotCounted, Output, Pitch, PitchClosed, StreamStarted
from stream.recording.reader import Recording
from stream.recording.replay import Mounds, Setup
from stream.sources.recording import Player
from stream.wire import Packet

#: Speeds that the keys go through, times real time.
SPEEDS = (0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, math.inf)
PICTURES_PER_S = 15.0
#: While it stands still a screen that was just opened must get its picture too, s.
STILL_EVERY_S = 0.5
#: Messages in one turn: about 20 ms of work at 12 channels.
_MOST_AT_ONCE = 64
#: Messages between two looks for a pitch or event: the place is met to 0.3 s at 50 messages a s.
_FINE = 16
_NAP_S = 0.05


@dataclass(frozen=True)
class Part:
    """One recording to play, what it is measured with, and its first and last receive time, ns."""

    recording: Recording
    setup: Setup
    first_ns: int
    last_ns: int

    @property
    def length_ns(self) -> int:
        """How long it is."""
        return max(self.last_ns - self.first_ns, 0)


class Seek(Enum):
    """What a step goes to."""

    PITCH = "pitch"  # or a movement that was not counted
    EVENT = "event"  # whatever the core tells


class Playback:
    """Plays ``parts`` one after the other into ``link``.

    Places are ns from the beginning of the first part; the time between two
    parts counts as nothing. ``clock`` is in ns. Nothing but :meth:`turn`
    does any work: the other calls say what the next turns are for.
    """

    def __init__(
        self,
        parts: Sequence[Part],
        link: LocalLink,
        *,
        only: str | None = None,
        speed: float = 1.0,
        clock: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self.parts = tuple(parts)
        self.link = link
        #: What the last step ended at.
        self.reached: Output | None = None
        self._only = only
        self._clock = clock
        self._speed = speed
        self._paused = False
        self._seek: Seek | int | None = None
        self._from_ns = 0
        self._begin()

    @property
    def length_ns(self) -> int:
        """How long all of it is."""
        return sum(part.length_ns for part in self.parts)

    @property
    def place_ns(self) -> int:
        """How far it has come."""
        return min(self._before_ns + self._player.position_ns - self._part.first_ns, self.length_ns)

    @property
    def recorded_ns(self) -> int:
        """The host's clock at this place when it was recorded (Unix epoch)."""
        return self._player.position_ns

    @property
    def recording(self) -> Recording:
        """The recording that is being played."""
        return self._part.recording

    @property
    def speed(self) -> float:
        """Times real time; infinite for as fast as it goes."""
        return self._speed

    @property
    def paused(self) -> bool:
        """Whether it stands still."""
        return self._paused

    @property
    def ended(self) -> bool:
        """Whether all has been played."""
        return self._ended

    @property
    def seeking(self) -> float | None:
        """How far a jump has come, 0 to 1; NaN on the way to a pitch or event; else None."""
        if self._seek is None:
            return None
        if isinstance(self._seek, Seek):
            return math.nan
        way = self._seek - self._from_ns
        return 1.0 if way <= 0 else min((self.place_ns - self._from_ns) / way, 1.0)

    def pause(self, paused: bool) -> None:
        """Stand still, or go on; a step or jump that is on its way ends here."""
        self._seek = None
        self._paused = paused
        if paused:
            self._player.pause()
        else:
            self._player.resume()

    def change_speed(self, step: int) -> None:
        """Take the next faster (1) or slower (-1) of :data:`SPEEDS`."""
        if step > 0:
            self._speed = next((s for s in SPEEDS if s > self._speed), SPEEDS[-1])
        else:
            self._speed = next((s for s in reversed(SPEEDS) if s < self._speed), SPEEDS[0])
        self._player.set_speed(self._speed)

    def step(self, to: Seek) -> None:
        """Go on, as fast as it goes, to the next pitch or event, and stand there."""
        if not self._ended:
            self.reached = None
            self._seek = to

    def jump(self, to_ns: int) -> None:
        """Go to a place; the pitches before it are measured on the way."""
        to_ns = min(max(to_ns, 0), self.length_ns)
        self.reached = None
        if to_ns < self.place_ns or self._ended:
            self._begin()
        self._from_ns = self.place_ns
        self._seek = to_ns

    def turn(self) -> float:
        """Do what is due now; return how long nothing more will be, s."""
        if self._ended:
            return _NAP_S
        if self._seek is None:
            packets = self._player.due(_MOST_AT_ONCE)
        elif isinstance(self._seek, Seek):
            packets = self._player.step(_FINE)
        else:
            packets = self._jump_on(self._seek)
        self._take(self._mounds.receive_many(packets))
        for core in self._mounds.cores.values():
            self._take(core.tick(self._player.position_ns))
        if self._player.ended and not isinstance(self._seek, int):
            self._next_part()
        wait_s = 0.0 if self._seek is not None else self._player.wait_s()
        return _NAP_S if wait_s is None or self._ended else min(wait_s, _NAP_S)

    async def run(self) -> None:
        """Take turns and show pictures until cancelled."""
        shown_s, shown_ns = -math.inf, -1
        while True:
            wait_s = self.turn()
            place_ns, passed_s = self.place_ns, time.monotonic() - shown_s
            if passed_s >= (STILL_EVERY_S if place_ns == shown_ns else 1.0 / PICTURES_PER_S):
                shown_s, shown_ns = time.monotonic(), place_ns
                self.show()
            await asyncio.sleep(wait_s)

    def show(self) -> None:
        """Show the picture of this moment to the link."""
        for core in self._mounds.cores.values():
            self.link.show(core.snapshot(self._player.position_ns))

    def _begin(self) -> None:
        self.link.forget()
        self._index, self._before_ns, self._ended = 0, 0, False
        self._open()

    def _open(self) -> None:
        self._part = self.parts[self._index]
        self._mounds = Mounds(self._part.setup, self._only)
        self._player = Player(self._part.recording, speed=self._speed, clock=self._clock)
        if self._paused:
            self._player.pause()

    def _next_part(self) -> None:
        self._take(self._mounds.finish())
        if self._index + 1 == len(self.parts):
            self.show()
            self._ended, self._seek = True, None
            return
        self._before_ns += self._part.length_ns
        self._index += 1
        self._open()

    def _jump_on(self, to_ns: int) -> list[Packet]:
        """Return the next messages on the way to ``to_ns``; at its end the jump is over."""
        target_ns = self._part.first_ns + to_ns - self._before_ns
        packets = self._player.before(target_ns, _MOST_AT_ONCE)
        if self._player.ended and self._index + 1 < len(self.parts):
            self._take(self._mounds.receive_many(packets))
            self._next_part()
            return []
        if not packets:
            self._player.stand_at(target_ns)
            self._seek = None
        return packets

    def _take(self, outputs: Sequence[Output]) -> None:
        self.link.feed(outputs)
        if isinstance(self._seek, Seek):
            met = next((o for o in outputs if _is_met(self._seek, o)), None)
            if met is not None:
                self.reached = met
                self.pause(True)


def _is_met(seek: Seek, output: Output) -> bool:
    if seek is Seek.PITCH:
        return isinstance(output, Pitch | NotCounted)
    if isinstance(output, StreamStarted):
        return output.restart
    return not isinstance(output, PitchClosed)
