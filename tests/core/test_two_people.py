"""A second person who steps onto the deck is told; invented pitches."""

from __future__ import annotations

import numpy as np

from simulators.scenario import Plan
from stream.pipeline import Pipeline
from stream.wire import ForceMessage, Packet, TopicKind, encode_force, topic
from tests.core.mounds import session


def test_a_second_person_on_the_deck_is_told() -> None:
    invented = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0))
    core = invented.pipeline()
    for packet in invented.packets([200]):
        core.receive(packet)
    tracker = core.tracker
    assert tracker is not None
    weight = tracker.detector._known_weight
    assert weight is not None  # a pitch was thrown
    assert stand(core, weight) == []
    assert stand(core, 2.0 * weight) == ["Two people seem to be on the deck"]


def stand(core: Pipeline, newtons: float) -> list[str]:
    """Let ``newtons`` stand still on the front platform; return what is said of people."""
    tracker, channels = core.tracker, core.layout.channels
    assert tracker is not None
    for _ in range(20):
        row = tracker.zero.tare.copy()
        row[8] += newtons
        block = np.tile(row, (40, 1)).astype(np.float32)
        assert block.shape == (40, channels)
        first = core.continuity.expected
        message = ForceMessage(
            core.source, core.continuity.stream or "", first, core.device_ns(first),
            tracker.rate_hz, block,
        )  # fmt: skip
        name = topic(core.source, TopicKind.FORCE)
        core.receive(Packet(name, encode_force(message), core.device_ns(first + 40)))
    said = core.snapshot(core.device_ns(core.continuity.expected)).sentences
    return [s.text.split(":")[0] for s in said if s.key == "two_people"]
