"""Order, repeats, gaps and restarts: from messages as they come to one run of frames.

Late-joining subscribers, dropped and repeated blocks and device restarts are
everyday events of a feed. A block that arrives early is held for a tenth of a
second of feed, so that a disordered pair heals; what has not come by then is a
gap. A block whose frame numbers do not fit the feed waits for the next one: two
that follow each other are a device that began anew, a single one is left out.
So is a block of a stream that was left before (:mod:`stream.left_streams`).
Nothing is lost uncounted.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import msgspec

from stream.left_streams import LeftStreams
from stream.outputs import Fault, Gap, StreamStarted
from stream.wire import ForceMessage, Samples

#: Blocks held at the most while an earlier one is awaited.
MOST_HELD = 64
#: How far a block's clock may be from what its frame number says, ns; a device that restarts
#: without a new stream value has old frame numbers at another time.
CLOCK_FITS_NS = 500_000_000
#: Frame numbers further ahead than this are no gap, s.
LONGEST_AHEAD_S = 86_400.0


class Run(msgspec.Struct, frozen=True):
    """Consecutive frames from ``first_frame`` on, (n, channels)."""

    first_frame: int
    samples: Samples


Step = Run | Gap | StreamStarted | Fault


@dataclass(slots=True)
class Counters:
    """What has come so far, since the monitor started; never reset by a reader."""

    frames: int = 0
    lost_frames: int = 0
    gaps: int = 0
    repeated_frames: int = 0
    late_frames: int = 0
    restarts: int = 0


class Continuity:
    """The order of one mound's feed."""

    def __init__(self, hold_s: float = 0.1) -> None:
        self.counters = Counters()
        self.stream: str | None = None
        self.rate_hz = 0.0
        self.channels = 0
        self.expected = 0
        self._hold_s = hold_s
        self._newest: tuple[int, int] = (0, 0)  # first frame, device clock
        self._stray: ForceMessage | None = None
        self._held: dict[int, ForceMessage] = {}
        self._given_up: deque[tuple[int, int]] = deque(maxlen=64)
        self._left = LeftStreams()

    def accept(self, message: ForceMessage, received_ns: int) -> list[Step]:
        """Take one message that came at ``received_ns``, host time; return what is in order."""
        if message.stream != self.stream:
            aside = self._left.put_aside(message, received_ns)
            if aside is not None:
                return [aside]
        self._left.followed(received_ns)
        if (
            message.first_frame == self.expected
            and message.stream == self.stream
            and not self._held
            and self._stray is None
            and message.samples.shape[1] == self.channels
            and message.rate_hz == self.rate_hz
        ):
            return [self._run(message)]
        if message.stream != self.stream:
            return [*self.flush(), self._start(message), *self._take(message)]
        if message.samples.shape[1] != self.channels or message.rate_hz != self.rate_hz:
            return [self._changed(message)]
        if not self._is_stray(message):
            return [*self._drop_stray(), *self._take(message)]
        return self._take_stray(message)

    @property
    def in_order(self) -> bool:
        """Whether a stream is known and nothing of it waits for an earlier block."""
        return self.stream is not None and not self._held and self._stray is None

    def extend(self, samples: Samples, newest: tuple[int, int], received_ns: int) -> Run:
        """Take frames (n, channels) that are known to be the next.

        ``newest``: first frame of the newest message and the clock it told;
        ``received_ns`` is when it came, host time.
        """
        self._left.followed(received_ns)
        run = Run(self.expected, samples)
        self.expected += len(samples)
        self.counters.frames += len(samples)
        self._newest = newest
        return run

    def flush(self) -> list[Step]:
        """Give out what is held: the feed has ended or begins anew."""
        return [*self._drop_stray(), *self._release(all_of_it=True)]

    def _take(self, message: ForceMessage) -> list[Step]:
        self._hold(message)
        return self._release(all_of_it=False)

    def _is_stray(self, message: ForceMessage) -> bool:
        """Whether its numbers are far ahead, or old ones at a time that is not theirs."""
        if message.first_frame > self.expected + LONGEST_AHEAD_S * self.rate_hz:
            return True
        if message.first_frame + len(message.samples) > self.expected:
            return False
        at_frame, at_ns = self._newest
        theirs = at_ns + (message.first_frame - at_frame) * 1e9 / self.rate_hz
        return abs(message.t_ns - theirs) > CLOCK_FITS_NS

    def _take_stray(self, message: ForceMessage) -> list[Step]:
        before = self._stray
        if before is None or not _follows(before, message):
            dropped = self._drop_stray()
            self._stray = message
            return dropped
        self._stray = None
        anew = [*self.flush(), self._start(before), *self._take(before)]
        return [*anew, *self._take(message)]

    def _drop_stray(self) -> list[Step]:
        if self._stray is None:
            return []
        stray, self._stray = self._stray, None
        return [
            Fault(
                stray.source,
                "stray_block",
                f"A block with the frame number {stray.first_frame} came where {self.expected} was "
                "due; it fits nothing and was left out. If this goes on, a second device may be "
                "sending under this mound's name.",
            )
        ]

    def _start(self, message: ForceMessage) -> StreamStarted:
        restart = self.stream is not None
        self.counters.restarts += restart
        if self.stream is not None:
            self._left.leave(self.stream, message.stream)
        self.stream, self.rate_hz = message.stream, message.rate_hz
        self.channels, self.expected = message.samples.shape[1], message.first_frame
        self._newest = (message.first_frame, message.t_ns)
        self._given_up.clear()
        return StreamStarted(
            message.source, message.stream, self.expected, self.rate_hz, self.channels, restart
        )

    def _changed(self, message: ForceMessage) -> Fault:
        return Fault(
            message.source,
            "shape_changed",
            f"A block with {message.samples.shape[1]} channels at {message.rate_hz:g} Hz came in a "
            f"stream of {self.channels} channels at {self.rate_hz:g} Hz and was left out. "
            "Restart the device so that it begins a new stream.",
        )

    def _hold(self, message: ForceMessage) -> None:
        if message.first_frame + len(message.samples) <= self.expected:
            self._count_behind(message.first_frame, message.first_frame + len(message.samples))
            return
        kept = self._held.get(message.first_frame)
        if kept is not None:
            self.counters.repeated_frames += min(len(message.samples), len(kept.samples))
        if kept is None or len(kept.samples) < len(message.samples):
            self._held[message.first_frame] = message

    def _count_behind(self, start: int, end: int) -> None:
        """Frames behind the present: late where their place was given up, else repeated."""
        late = sum(max(0, min(end, b) - max(start, a)) for a, b in self._given_up)
        self.counters.late_frames += late
        self.counters.repeated_frames += end - start - late

    def _release(self, *, all_of_it: bool) -> list[Step]:
        steps: list[Step] = []
        while self._held:
            first = min(self._held)
            if first > self.expected:
                if not all_of_it and self._may_yet_come():
                    break
                steps.append(self._give_up(first, self._held[first]))
            message = self._held.pop(first)
            if first + len(message.samples) <= self.expected:
                self._count_behind(first, first + len(message.samples))
            else:
                self.counters.repeated_frames += self.expected - first
                steps.append(self._run(message))
        return steps

    def _may_yet_come(self) -> bool:
        waiting = sum(len(m.samples) for m in self._held.values())
        return waiting < self._hold_s * self.rate_hz and len(self._held) < MOST_HELD

    def _give_up(self, first: int, message: ForceMessage) -> Gap:
        gap = Gap(message.source, message.stream, self.expected, first - self.expected)
        self.counters.gaps += 1
        self.counters.lost_frames += gap.frames
        self._given_up.append((self.expected, first))
        self.expected = first
        return gap

    def _run(self, message: ForceMessage) -> Run:
        skip = self.expected - message.first_frame
        run = Run(self.expected, message.samples[skip:] if skip else message.samples)
        self.expected += len(run.samples)
        self.counters.frames += len(run.samples)
        self._newest = (message.first_frame, message.t_ns)
        return run


def _follows(before: ForceMessage, message: ForceMessage) -> bool:
    """Whether ``message`` goes on where ``before`` ends, by its frame numbers and its clock."""
    frames = message.first_frame - before.first_frame
    fits = abs(message.t_ns - before.t_ns - frames * 1e9 / message.rate_hz) < CLOCK_FITS_NS
    return frames == len(before.samples) and fits
