"""Invented feeds for the core's tests: simulated sessions as packets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np

from simulators.deck import Plates
from simulators.scenario import Plan, compose
from simulators.sensor import Imperfections, Sensor
from simulators.timeline import RATE_HZ, Scenario
from stream.files import load_layout
from stream.layout import Layout
from stream.outputs import NotCounted, Output, Pitch, record_json
from stream.pipeline import Pipeline
from stream.wire import ForceMessage, Packet, Samples, TopicKind, encode_force, topic

SOURCE = "mound-t"


@lru_cache(maxsize=4)
def session(plan: Plan, layout_name: str = "two-plates", noise_n: float = 0.0) -> Session:
    """Return an invented session as one array of frames."""
    return Session(plan, layout_name, noise_n)


class Session:
    """A rendered session."""

    def __init__(self, plan: Plan, layout_name: str, noise_n: float) -> None:
        self.layout: Layout = load_layout(layout_name)
        self.scenario: Scenario = compose(plan, self.layout.deck)
        plates = Plates(self.layout)
        sensor = Sensor(self.layout, Imperfections(offset_n=5.0, noise_n=noise_n), plan.seed)
        frames = round(self.scenario.duration * RATE_HZ)
        blocks = []
        for start in range(0, frames, 2000):
            t = np.arange(start, min(frames, start + 2000)) / RATE_HZ
            blocks.append(sensor.read(plates.read(self.scenario.contacts, t), t))
        self.samples: Samples = np.concatenate(blocks)

    def pipeline(self) -> Pipeline:
        """Return a fresh core for it; its first pitcher throws."""
        first = self.scenario.chosen[0].pitcher
        return Pipeline(SOURCE, self.layout, roster=self.scenario.roster, pitcher=first)

    def packets(self, cuts: Sequence[int] | int) -> Iterator[Packet]:
        """Cut the session into force messages of ``cuts`` frames, taken in turn."""
        sizes = [cuts] if isinstance(cuts, int) else list(cuts)
        at, turn = 0, 0
        while at < len(self.samples):
            size = sizes[turn % len(sizes)]
            yield force_packet(at, self.samples[at : at + size])
            at, turn = at + size, turn + 1


def force_packet(first: int, samples: Samples, stream: str = "s1") -> Packet:
    """Return a force message as it comes from the wire."""
    t_ns = round(first / RATE_HZ * 1e9)
    message = ForceMessage(SOURCE, stream, first, t_ns, RATE_HZ, samples)
    return Packet(topic(SOURCE, TopicKind.FORCE), encode_force(message), t_ns + 3_000_000)


def records(outputs: Sequence[Output]) -> list[bytes]:
    """Return the lines that would be published of pitches and not-counted movements."""
    return [record_json(o.record) for o in outputs if isinstance(o, Pitch | NotCounted)]
