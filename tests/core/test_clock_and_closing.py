"""When a pitch is closed after the device's clock was set or the device began anew."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import msgspec
import pytest

from simulators.scenario import Plan
from stream.book import Book
from stream.outputs import NotCounted, Output, PitchClosed, PitchRecord, UnpairedSpeed, record_json
from stream.wire import (
    NS,
    Packet,
    SpeedMessage,
    TopicKind,
    decode_force,
    encode_force,
    encode_speed,
    topic,
)
from tests.core.mounds import SOURCE, session

PLAN = Plan(seed=11, pitches=2, pitchers=1, quick=True)
HOUR = 3600 * NS
BLOCK = 8
#: Blocks from foot contact until the pitch is told and not yet closed, and until it is closed.
TOLD, CLOSED = 400 // BLOCK, 960 // BLOCK


@lru_cache(maxsize=1)
def good() -> tuple[Packet, ...]:
    return tuple(session(PLAN).packets(BLOCK))


@lru_cache(maxsize=1)
def contact_block() -> int:
    """The block in which the foot of the first pitch comes down."""
    core = session(PLAN).pipeline()
    closed = closings([o for packet in good() for o in core.receive(packet)])
    return int(closed[0].foot_contact_frame or 0.0) // BLOCK


def closings(outputs: Sequence[Output]) -> list[PitchRecord]:
    return [o.record for o in outputs if isinstance(o, PitchClosed)]


def by_clock(packet: Packet, by_ns: int) -> Packet:
    message = decode_force(packet.payload)
    told = msgspec.structs.replace(message, t_ns=message.t_ns + by_ns)
    return Packet(packet.topic, encode_force(told), packet.received_ns)


def begun_anew(packets: Sequence[Packet], stream: str, t_ns: int) -> list[Packet]:
    """The packets of a device that starts again, its frames from 0 and its clock from ``t_ns``."""
    first = decode_force(packets[0].payload).first_frame
    anew = []
    for packet in packets:
        message = decode_force(packet.payload)
        frame = message.first_frame - first
        told = msgspec.structs.replace(
            message, stream=stream, first_frame=frame, t_ns=t_ns + round(frame * NS / 200.0)
        )
        anew.append(Packet(packet.topic, encode_force(told), packet.received_ns))
    return anew


def speed(packet: Packet) -> Packet:
    """A ball speed told at the moment of ``packet`` by the same clock."""
    message = SpeedMessage(SOURCE, decode_force(packet.payload).t_ns, 36.0)
    return Packet(topic(SOURCE, TopicKind.SPEED), encode_speed(message), packet.received_ns)


@pytest.mark.parametrize("by_ns", [HOUR, -HOUR])
def test_a_clock_that_is_set_neither_closes_a_pitch_early_nor_keeps_it_open(by_ns: int) -> None:
    core, at = session(PLAN).pipeline(), contact_block()
    for packet in good()[: at + TOLD]:
        assert closings(core.receive(packet)) == []
    assert core.book.count == 1
    after = [by_clock(packet, by_ns) for packet in good()[at + TOLD : at + CLOSED]]
    first = core.receive(after[0])
    assert closings(first) == []
    outputs = [*core.receive(speed(after[0]))]
    for packet in after[1:]:
        outputs += core.receive(packet)
    assert [(r.number, r.speed_mps) for r in closings(outputs)] == [(1, 36.0)]


@pytest.mark.parametrize("since_contact_ns", [-HOUR, NS, HOUR])
@pytest.mark.parametrize("stream", ["s1", "s2"])
def test_a_device_that_begins_anew_closes_what_is_open(stream: str, since_contact_ns: int) -> None:
    core, at = session(PLAN).pipeline(), contact_block()
    t_ns = decode_force(good()[at].payload).t_ns + since_contact_ns
    for packet in good()[: at + TOLD]:
        core.receive(packet)
    after = begun_anew(good()[at + TOLD : at + TOLD + 3], stream, t_ns)
    outputs = [o for packet in after for o in core.receive(packet)]
    assert [r.number for r in closings(outputs)] == [1]
    assert not any(isinstance(o, UnpairedSpeed) for o in core.receive(speed(after[0])))
    assert core.book.records[1].speed_mps is None, "by the clock of another start"


def test_no_clock_tells_of_a_pitch_of_an_earlier_run() -> None:
    core = session(PLAN).pipeline()
    for packet in good()[: contact_block() + CLOSED]:
        core.receive(packet)
    book = Book(SOURCE, 1)
    book.recall(core.book.records[1])
    assert book.speed(SpeedMessage(SOURCE, NS, 36.0)) == []
    assert book.records[1].speed_mps is None


@pytest.mark.parametrize("batch", [3, 50, 10_000])
def test_lines_are_the_same_however_many_messages_come_at_once(batch: int) -> None:
    at = contact_block()
    told = at + TOLD
    packets = [
        *good()[:told],
        *(by_clock(packet, -HOUR) for packet in good()[told : told + 20]),
        speed(by_clock(good()[told + 20], -HOUR)),
        *(by_clock(packet, -HOUR) for packet in good()[told + 20 : told + 30]),
        *begun_anew(good(), "s2", 0),
    ]

    def lines(size: int) -> list[bytes]:
        core, out = session(PLAN).pipeline(), list[Output]()
        for start in range(0, len(packets), size):
            out += core.receive_many(packets[start : start + size])
        out += core.finish()
        return [record_json(o.record) for o in out if isinstance(o, PitchClosed | NotCounted)]

    one_by_one = lines(1)
    assert len(one_by_one) >= 3
    assert lines(batch) == one_by_one
