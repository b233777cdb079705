"""The feed of a simulated device: a scenario as messages, by the device's own clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from heapq import merge

import numpy as np

from simulators.curves import Array
from simulators.sensor import Imperfections
from simulators.timeline import RATE_HZ, Scenario
from stream.actions import ChoosePitcher, encode_action
from stream.layout import Layout
from stream.wire import (
    ForceMessage,
    Samples,
    SpeedMessage,
    TopicKind,
    encode_force,
    encode_speed,
    topic,
)

#: Where an invented recording begins: 1 April 2025, 17:00 UTC.
EPOCH_NS = 1_743_526_800_000_000_000
#: (readings (n, channels), t (n,) s) -> readings.
Spoil = Callable[[Samples, Array], Samples]
Content = ForceMessage | SpeedMessage | ChoosePitcher


@dataclass(frozen=True, slots=True)
class Device:
    """A device that samples and sends.

    Its crystal is wrong by ``ppm`` parts per million: it counts ``rate_hz``
    frames in what it takes for a second. Its clock is ahead of the true one by
    ``ahead_s``. ``true_rate_hz`` differs from what it announces only where a
    fault makes it. The first frame is taken ``start_offset`` s after the
    scenario begins.
    """

    source: str = "mound-a"
    stream: str = "sim"
    rate_hz: float = RATE_HZ
    block: int = 4
    ppm: float = 20.0
    ahead_s: float = 0.35
    start_offset: float = 0.0013
    true_rate_hz: float | None = None

    @property
    def frames_per_second(self) -> float:
        """Frames in a true second."""
        return (self.true_rate_hz or self.rate_hz) * (1.0 + self.ppm * 1e-6)

    def frame(self, time: float) -> float:
        """Return the fractional frame index at ``time`` s of the scenario."""
        return (time - self.start_offset) * self.frames_per_second

    def clock_ns(self, time: float, epoch_ns: int) -> int:
        """Return what its clock shows at ``time`` s of a scenario that begins at ``epoch_ns``."""
        since = (time - self.start_offset) * (1.0 + self.ppm * 1e-6)
        return epoch_ns + round((self.start_offset + self.ahead_s + since) * 1e9)


@dataclass(frozen=True, slots=True)
class Timed:
    """A message and the time (s of the scenario) at which it leaves."""

    time: float
    content: Content


@dataclass(frozen=True, slots=True)
class Sent:
    """A message as bytes: ``time`` s of the scenario, device clock and host clock in ns."""

    time: float
    topic: str
    payload: bytes
    device_ns: int
    host_ns: int


def messages(
    scenario: Scenario,
    layout: Layout,
    device: Device,
    imperfections: Imperfections | None = None,
    epoch_ns: int = EPOCH_NS,
    ahead_frames: int = 2000,
    spoil: Spoil | None = None,
) -> Iterator[Timed]:
    """Yield everything that happens, in the order of time.

    ``ahead_frames``: how many frames are computed at once; ``spoil``: what
    faults do to readings.
    """
    force = _force(scenario, layout, device, imperfections, epoch_ns, ahead_frames, spoil)
    chosen = (
        Timed(c.time, ChoosePitcher(source=device.source, t_ns=_host(c.time, epoch_ns),
                                    pitcher=c.pitcher))
        for c in scenario.chosen
    )  # fmt: skip
    speeds = (
        Timed(s.time, SpeedMessage(device.source, device.clock_ns(s.time, epoch_ns), s.speed_mps))
        for s in scenario.speeds
    )
    return merge(force, chosen, speeds, key=lambda m: m.time)


def _force(
    scenario: Scenario,
    layout: Layout,
    device: Device,
    imperfections: Imperfections | None,
    epoch_ns: int,
    ahead_frames: int,
    spoil: Spoil | None,
) -> Iterator[Timed]:
    rate, size = device.frames_per_second, device.block
    ahead = max(ahead_frames // size, 1) * size
    for first, samples in scenario.render(layout, imperfections, rate, ahead, device.start_offset):
        if spoil is not None:
            times = device.start_offset + (first + np.arange(len(samples))) / rate
            samples = spoil(samples, times)  # noqa: PLW2901 - the same readings, spoilt
        for at in range(0, len(samples), size):
            frame, part = first + at, samples[at : at + size]
            start = device.start_offset + frame / rate
            yield Timed(
                start + len(part) / rate,
                ForceMessage(
                    device.source,
                    device.stream,
                    frame,
                    device.clock_ns(start, epoch_ns),
                    device.rate_hz,
                    part,
                ),
            )


def packed(timed: Timed, epoch_ns: int = EPOCH_NS) -> Sent:
    """Return a message as bytes on its topic; the host gets it a millisecond or so later."""
    content = timed.content
    host_ns = _host(timed.time, epoch_ns)
    match content:
        case ForceMessage():
            kind, payload = TopicKind.FORCE, encode_force(content)
            # A few hundred microseconds of invented, repeatable jitter of the network.
            host_ns += 400_000 + (content.first_frame * 2_654_435_761 % 2**32) // 8_600
        case SpeedMessage():
            kind, payload = TopicKind.SPEED, encode_speed(content)
        case _:
            kind, payload = TopicKind.OPERATOR, encode_action(content)
    return Sent(timed.time, topic(content.source, kind), payload, content.t_ns, host_ns)


def _host(time: float, epoch_ns: int) -> int:
    return epoch_ns + int(np.rint(time * 1e9))
