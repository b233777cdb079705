"""A recording as a source: as fast as it goes, or paced like the feed it was.

The schedule is absolute: a message is due at the moment that its place in the
recording and the speed say, however late the one before it was taken.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator

from stream.recording.reader import Recording
from stream.wire import NS, Packet

#: Most messages handed out at once, so that a screen is never kept waiting.
MOST_AT_ONCE = 1024


class Player:
    """Plays a recording: any speed, pause, step, jump. Synchronous; ``clock`` is in ns.

    Positions are host receive times of the recording, ns; a host clock that
    was set back while recording counts as standing still. To go back, begin with
    a new player and a new core, and take what is :meth:`before` the place.
    """

    def __init__(
        self,
        recording: Recording,
        *,
        speed: float = 1.0,
        clock: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self.recording = recording
        self._clock = clock
        self._speed = _checked(speed)
        self._paused = False
        self._packets: Iterator[Packet] = self.recording.packets()
        self._next = next(self._packets, None)
        self.start_ns = self._next.received_ns if self._next else 0
        self._due_ns = self.start_ns
        self._anchor(self.start_ns)

    @property
    def position_ns(self) -> int:
        """Where the recording stands now."""
        if self._next is None:
            return self._due_ns
        if self._paused or math.isinf(self._speed):
            return min(self._anchor_ns, self._due_ns)
        elapsed = self._clock() - self._anchor_clock
        return min(self._anchor_ns + round(elapsed * self._speed), self._due_ns)

    @property
    def ended(self) -> bool:
        """Whether all has been played."""
        return self._next is None

    @property
    def paused(self) -> bool:
        """Whether it stands still."""
        return self._paused

    @property
    def speed(self) -> float:
        """Times real time; infinite for as fast as it goes."""
        return self._speed

    def pause(self) -> None:
        """Stand still here."""
        self._anchor(self.position_ns)
        self._paused = True

    def resume(self) -> None:
        """Go on from here."""
        self._paused = False
        self._anchor(self._anchor_ns)

    def set_speed(self, speed: float) -> None:
        """Go on from here at ``speed`` times real time; raise ValueError unless above 0."""
        self._anchor(self.position_ns)
        self._speed = _checked(speed)

    def due(self, most: int = MOST_AT_ONCE) -> list[Packet]:
        """Return the messages whose time has come, at most ``most``."""
        if self._paused:
            return []
        if math.isinf(self._speed):
            return self.step(most)
        now_ns = self._anchor_ns + round((self._clock() - self._anchor_clock) * self._speed)
        batch: list[Packet] = []
        while self._next is not None and self._due_ns <= now_ns and len(batch) < most:
            batch.append(self._take())
        return batch

    def wait_s(self) -> float | None:
        """Return how long until the next message is due; None where none will be."""
        if self._paused or self._next is None:
            return None
        if math.isinf(self._speed):
            return 0.0
        passed = (self._clock() - self._anchor_clock) * self._speed
        return max((self._due_ns - self._anchor_ns - passed) / self._speed / NS, 0.0)

    def step(self, messages: int = 1) -> list[Packet]:
        """Return the next messages whatever the time, and stand there."""
        batch: list[Packet] = []
        while self._next is not None and len(batch) < messages:
            batch.append(self._take())
        if batch:
            self._anchor(max(self._anchor_ns, batch[-1].received_ns))
        return batch

    def before(self, to_ns: int, most: int = MOST_AT_ONCE) -> list[Packet]:
        """Return, at once, the next messages before ``to_ns``; empty when there are no more."""
        batch: list[Packet] = []
        while self._next is not None and self._due_ns < to_ns and len(batch) < most:
            batch.append(self._take())
        if batch:
            self._anchor(max(self._anchor_ns, batch[-1].received_ns))
        return batch

    def stand_at(self, to_ns: int) -> None:
        """Count ``to_ns`` as the place from here on; all before it has been taken."""
        self._anchor(min(to_ns, self._due_ns) if self._next is None else to_ns)

    def _take(self) -> Packet:
        packet = self._next
        assert packet is not None
        self._next = next(self._packets, None)
        if self._next is not None:
            self._due_ns = max(self._due_ns, self._next.received_ns)
        return packet

    def _anchor(self, position_ns: int) -> None:
        self._anchor_ns = position_ns
        self._anchor_clock = self._clock()


def _checked(speed: float) -> float:
    if not speed > 0.0:
        raise ValueError("a speed is above 0")
    return speed
