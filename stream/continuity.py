"""Order, repeats, gaps and restarts: from messages as they come to one run of frames.

Late-joining subscribers, dropped and repeated blocks and device restarts are
everyday events of a feed. A block that arrives early is held for a tenth of a
second of feed, so that a disordered pair heals; what has not come by then is a
gap. Nothing is lost uncounted.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import msgspec

from stream.outputs import Fault, Gap, StreamStarted
from stream.wire import ForceMessage, Samples

#: Blocks held at the most while an earlier one is awaited.
MOST_HELD = 64
#: How far the clock must be ahead for old frame numbers to mean a restart.
RESTART_AHEAD_NS = 500_000_000


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
        self._newest_t_ns = 0
        self._held: dict[int, ForceMessage] = {}
        self._given_up: deque[tuple[int, int]] = deque(maxlen=64)

    def accept(self, message: ForceMessage) -> list[Step]:
        """Take one message; return what is now in order."""
        if (
            message.first_frame == self.expected
            and message.stream == self.stream
            and not self._held
            and message.samples.shape[1] == self.channels
            and message.rate_hz == self.rate_hz
        ):
            return [self._run(message)]
        steps: list[Step] = []
        if self._is_new_stream(message):
            steps += self.flush()
            steps.append(self._start(message))
        if message.samples.shape[1] != self.channels or message.rate_hz != self.rate_hz:
            steps.append(self._changed(message))
        else:
            self._hold(message)
            steps += self._release(all_of_it=False)
        return steps

    def flush(self) -> list[Step]:
        """Give out what is held: the feed has ended or begins anew."""
        return self._release(all_of_it=True)

    def _is_new_stream(self, message: ForceMessage) -> bool:
        if message.stream != self.stream:
            return True
        # Some devices restart without a new stream value: old numbers under a newer clock.
        went_back = message.first_frame + len(message.samples) <= self.expected
        return went_back and message.t_ns > self._newest_t_ns + RESTART_AHEAD_NS

    def _start(self, message: ForceMessage) -> StreamStarted:
        restart = self.stream is not None
        self.counters.restarts += restart
        self.stream, self.rate_hz = message.stream, message.rate_hz
        self.channels, self.expected = message.samples.shape[1], message.first_frame
        self._newest_t_ns = message.t_ns
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
        self._newest_t_ns = max(self._newest_t_ns, message.t_ns)
        return run
