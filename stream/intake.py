"""Force messages to frames in order: the quick way for many, the careful way for one.

Both keep the order (:mod:`stream.continuity`) and the device's clock; what a
message means for the mound is the pipeline's.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from stream.continuity import Continuity, Run, Step
from stream.joining import Expected, join
from stream.outputs import StreamStarted
from stream.watchman import Watchman
from stream.wire import NS, ForceMessage, Packet, TopicKind, topic

#: How far the device clock may stray from its frame count before it is read anew, ns.
CLOCK_SLACK_NS = 2_000_000
#: From here on the operator is told that the device clock was set, ns.
CLOCK_STEP_NS = 500_000_000


class ClockRead(msgspec.Struct, frozen=True):
    """The device clock showed ``ns`` at ``frame``; ``set_by_ns`` where somebody set it, else 0."""

    frame: int
    ns: int
    set_by_ns: int = 0


class TakenAtOnce(msgspec.Struct, frozen=True):
    """Messages taken as one: their frames, and how many they were."""

    run: Run
    messages: int


class Intake:
    """The force messages of one mound; ``watchman`` notes when they came."""

    def __init__(self, source: str, watchman: Watchman) -> None:
        self.continuity = Continuity()
        self._source = source
        self._watchman = watchman
        self._topic = topic(source, TopicKind.FORCE)
        self._clock = ClockRead(0, 0)

    def device_ns(self, frame: float) -> int:
        """Return the device clock (ns) at a frame of the present stream."""
        rate = self.continuity.rate_hz or 1.0
        return self._clock.ns + round((frame - self._clock.frame) * NS / rate)

    def read_clock(self, read: ClockRead) -> None:
        """From now on the device clock is told by ``read``."""
        self._clock = read

    def take_many(self, packets: Sequence[Packet], start: int) -> TakenAtOnce | None:
        """Take the messages from ``packets[start]`` on that are just what is awaited, if any."""
        known = self.continuity
        if known.stream is None or not known.in_order:
            return None
        expected = Expected(
            self._topic,
            self._source,
            known.stream,
            known.expected,
            known.rate_hz,
            known.channels,
            (self._clock.frame, self._clock.ns),
            CLOCK_SLACK_NS,
        )
        joined = join(packets, start, expected)
        if joined is None:
            return None
        newest = (joined.last.first_frame, joined.last.t_ns)
        run = known.extend(joined.samples, newest, joined.received_ns[-1])
        self._watchman.on_time(joined.received_ns, joined.newest_ns)
        self._watchman.arrived(joined.received_ns[-1], known.counters.frames, known.rate_hz)
        return TakenAtOnce(run, len(joined.received_ns))

    def take(self, message: ForceMessage, received_ns: int) -> list[Step | ClockRead]:
        """Take one message; return what is now in order.

        A clock that is to be read anew comes before what it holds for: what
        came before, of the stream before a restart too, is settled under the
        old reading.
        """
        counters, known = self.continuity.counters, self.continuity.stream
        frames, restarts = counters.frames, counters.restarts
        steps: list[Step | ClockRead] = [*self.continuity.accept(message, received_ns)]
        if counters.frames == frames:  # a block that was left out does not set the clock
            return steps
        off_ns = message.t_ns - self.device_ns(message.first_frame)
        newest_ns = message.t_ns + round((len(message.samples) - 1) * NS / message.rate_hz)
        self._watchman.on_time((received_ns,), (newest_ns,))
        if abs(off_ns) > CLOCK_SLACK_NS:
            was_set = known is not None and counters.restarts == restarts
            told = off_ns if was_set and abs(off_ns) > CLOCK_STEP_NS else 0
            anew = (at for at, step in enumerate(steps) if isinstance(step, StreamStarted))
            steps.insert(next(anew, 0), ClockRead(message.first_frame, message.t_ns, told))
        return steps
