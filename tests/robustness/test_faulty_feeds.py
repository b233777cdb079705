"""Feeds that go wrong, through the core: clocks that step, wrong rates, absurd messages."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache

import msgspec
import numpy as np
import pytest

from simulators.scenario import Plan
from stream.outputs import (
    Fault,
    Gap,
    Output,
    Pitch,
    PitchRecord,
    StreamStarted,
    UnpairedSpeed,
)
from stream.pipeline import Pipeline
from stream.snapshot import Level, Snapshot
from stream.wire import (
    Packet,
    Refusal,
    SpeedMessage,
    decode_force,
    encode_force,
    encode_speed,
)
from tests.core.mounds import SOURCE, session

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
PLAN = Plan(seed=11, pitches=2, pitchers=1, quick=True)
Measured = Callable[[str], None]


@lru_cache(maxsize=1)
def good() -> tuple[Packet, ...]:
    return tuple(session(PLAN).packets(8))


def run(packets: Iterable[Packet], core: Pipeline | None = None) -> tuple[Pipeline, list[Output]]:
    core = core or session(PLAN).pipeline()
    outputs = [output for packet in packets for output in core.receive(packet)]
    return core, outputs + core.finish()


def pitches(outputs: Sequence[Output]) -> list[PitchRecord]:
    return [o.record for o in outputs if isinstance(o, Pitch)]


def changed(packet: Packet, later_ns: int = 0, **fields: object) -> Packet:
    message = msgspec.structs.replace(decode_force(packet.payload), **fields)
    return Packet(packet.topic, encode_force(message), packet.received_ns + later_ns)


def said(outputs: Sequence[Output], kind: str) -> list[str]:
    return [o.say for o in outputs if isinstance(o, Fault) and o.kind == kind]


def last(core: Pipeline) -> Snapshot:
    return core.snapshot(core.watchman.last_ns or 0)


@pytest.mark.fault(
    "the device's clock is set an hour forward, or back, in the middle of a pitch",
    "every pitch is the same to the last bit; the step is said; the delay shown stays true",
)
@pytest.mark.parametrize("step_ns", [HOUR, -HOUR])
def test_a_clock_step_changes_no_pitch(step_ns: int, measured: Measured) -> None:
    whole = pitches(run(good())[1])
    contact = whole[0].foot_contact_frame
    assert contact is not None
    at = int(contact) // 8
    stepped = [
        packet if i < at else changed(packet, t_ns=decode_force(packet.payload).t_ns + step_ns)
        for i, packet in enumerate(good())
    ]
    core, outputs = run(stepped)
    assert pitches(outputs) == whole
    assert len(said(outputs, "clock_step")) == 1
    assert not [o for o in outputs if isinstance(o, Gap)]
    assert [o.restart for o in outputs if isinstance(o, StreamStarted)] == [False]
    now = last(core).feed
    assert now.latency_worst_ms is not None
    assert now.latency_worst_ms < 100.0
    measured(f"{len(whole)} pitches, 0 changed; delay shown {now.latency_worst_ms:.1f} ms at most")


def stops(core: Pipeline, start_ns: int, seconds: float) -> list[str]:
    """Let time pass as the monitor does; return what is told of a feed that stopped."""
    ticks = [start_ns + tick * SECOND // 5 for tick in range(round(seconds * 5))]
    return [say for now_ns in ticks for say in said(core.tick(now_ns), "stalled")]


@pytest.mark.fault(
    "the clock of this computer is set back an hour in the middle of the feed, which then stops",
    "the stop is told at once, and how long ago it was; what was lost before is news for 20 s",
)
def test_the_hosts_clock_set_back_hides_nothing() -> None:
    core = session(PLAN).pipeline()
    for number, packet in enumerate(good()[:600]):
        if number not in range(300, 310):
            received = packet.received_ns + (HOUR if number < 400 else 0)
            core.receive(Packet(packet.topic, packet.payload, received))
            assert stops(core, received, 0.2) == []
    assert "lost" in [s.key for s in last(core).sentences]
    shown = last(core).feed
    assert shown.latency_worst_ms is not None
    assert shown.latency_worst_ms < 100.0
    assert shown.rate_hz == pytest.approx(200.0, rel=0.1)
    now = good()[599].received_ns
    assert [say[:26] for say in stops(core, now, 12.0)] == ["The feed stopped 1 s ago. "]
    keys = [s.key for s in core.snapshot(now + 12 * SECOND).sentences]
    assert "stalled" in keys
    assert "lost" not in keys, "more than 20 s have passed since, by whatever clock"


def test_the_hosts_clock_set_back_after_the_feed_stopped() -> None:
    core = session(PLAN).pipeline()
    for packet in good()[:400]:
        core.receive(Packet(packet.topic, packet.payload, packet.received_ns + HOUR))
    now = core.watchman.last_ns or 0
    assert stops(core, now, 0.8) == []
    assert len(stops(core, now - HOUR, 31.0)) == 1
    told = {s.key: s.text for s in core.snapshot(now - HOUR + 31 * SECOND).sentences}
    assert told["stalled"].startswith("The feed stopped 32 s ago")


def test_after_a_clock_step_a_ball_speed_finds_the_next_pitch() -> None:
    """The pitch of the step itself may lose its speed, which is said as unpaired; the next not."""
    whole = pitches(run(good())[1])
    frames = [p.foot_contact_frame or 0.0 for p in whole]
    at = int(frames[0]) // 8
    packets: list[Packet] = []
    for i, packet in enumerate(good()):
        packets.append(
            packet if i < at else changed(packet, t_ns=decode_force(packet.payload).t_ns + HOUR)
        )
        for frame in frames:
            if i == int(frame) // 8 + 20:
                device = decode_force(packets[-1].payload).t_ns
                speed = encode_speed(SpeedMessage(SOURCE, device, 36.0))
                packets.append(Packet(f"moundfeed/{SOURCE}/speed", speed, packet.received_ns))
    core, outputs = run(packets)
    speeds = [record.speed_mps for record in core.book.records.values()]
    assert speeds[1:] == [36.0] * (len(frames) - 1)
    unpaired = sum(isinstance(o, UnpairedSpeed) for o in outputs)
    assert speeds[0] == 36.0 or unpaired == 1, "no speed is lost without a word"


@pytest.mark.fault(
    "the device samples at half, or at double, the rate that it announces",
    "it is said within seconds how many frames come and how many should; nothing crashes",
)
@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_a_wrong_rate_is_said(factor: float, measured: Measured) -> None:
    core = session(PLAN).pipeline()
    first = good()[0].received_ns
    heard_s = math.inf
    for packet in good():
        since = round((packet.received_ns - first) / factor)
        core.receive(Packet(packet.topic, packet.payload, first + since))
        pace = [s for s in core.watchman.sentences(first + since) if s.key == "pace"]
        if pace:
            heard_s = min(heard_s, since / SECOND)
            assert pace[0].level is Level.ALARM
            assert f"{200 * factor:.0f} frames a second arrive; the device says 200" in pace[0].text
    assert heard_s < 10.0
    measured(f"{factor:g} times the rate: said after {heard_s:.1f} s")


def test_a_right_rate_is_not_complained_of_even_after_a_pause_and_its_burst() -> None:
    core = session(PLAN).pipeline()
    packets = good()
    pause_from, pause_to = packets[400].received_ns, packets[900].received_ns
    for packet in packets:
        held = pause_from <= packet.received_ns < pause_to
        received = pause_to if held else packet.received_ns
        core.receive(Packet(packet.topic, packet.payload, received))
        assert not [s for s in core.watchman.sentences(received) if s.key == "pace"]


@pytest.mark.fault(
    "channels are added or taken away in the middle of a stream",
    "the blocks are left out, counted and said; what was measured before stays; the feed is "
    "taken up again when the channels are right",
)
@pytest.mark.parametrize("channels", [6, 13, 24])
def test_channels_that_change_in_mid_stream(channels: int, measured: Measured) -> None:
    packets = list(good())
    wrong = range(200, 300)
    for i in wrong:
        message = decode_force(packets[i].payload)
        packets[i] = changed(
            packets[i], samples=np.zeros((len(message.samples), channels), np.float32)
        )
    core, outputs = run(packets)
    assert len(said(outputs, "shape_changed")) == len(wrong)
    assert last(core).feed.rejected == {"shape_changed": len(wrong)}
    assert last(core).feed.lost_frames == 8 * len(wrong), "what was left out is a hole, not data"
    assert len(pitches(outputs)) == PLAN.pitches
    measured(f"{channels} channels: {len(wrong)} blocks left out and counted, no pitch lost")


@pytest.mark.fault(
    "the device starts again with other channels than the layout's",
    "nothing is measured, and it is said which layout is wanted",
)
def test_a_new_stream_of_another_shape_is_not_measured() -> None:
    packets = [
        changed(
            packet,
            stream="other",
            samples=np.zeros((len(decode_force(packet.payload).samples), 24), np.float32),
        )
        for packet in good()[:50]
    ]
    core, outputs = run(packets)
    assert said(outputs, "wrong_layout")
    assert last(core).platforms == []
    assert [s.key for s in last(core).sentences][:1] == ["wrong_layout"]
    assert pitches(outputs) == []


@pytest.mark.fault(
    "one block with an absurd frame number or clock (a second device, a flipped bit)",
    "it is left out, counted and said; every pitch is the same",
)
@pytest.mark.parametrize(
    "fields",
    [
        {"first_frame": 2**50},
        {"first_frame": 2**53, "t_ns": 2**63 - 1},
        {"first_frame": 0, "t_ns": 2**62},
        {"first_frame": 0, "t_ns": -(2**63)},
    ],
)
def test_one_absurd_block_changes_nothing(fields: dict[str, int], measured: Measured) -> None:
    whole = pitches(run(good())[1])
    packets = list(good())
    packets.insert(700, changed(packets[700], **fields))
    core, outputs = run(packets)
    assert pitches(outputs) == whole
    assert len(said(outputs, "stray_block")) == 1
    now = last(core).feed
    assert now.rejected == {"stray_block": 1}
    assert (now.lost_frames, now.gaps, now.restarts) == (0, 0, 0)
    measured(f"{fields}: 1 block left out, {len(whole)} pitches unchanged")


@pytest.mark.fault(
    "the device starts again without saying so, with its clock an hour behind",
    "the feed is taken up with the second block; none of its frames is lost",
)
def test_a_silent_restart_with_an_older_clock_is_taken_up() -> None:
    again = [changed(p, t_ns=decode_force(p.payload).t_ns - HOUR) for p in good()[:100]]
    core, outputs = run([*good()[:500], *again])
    assert [o.restart for o in outputs if isinstance(o, StreamStarted)] == [False, True]
    assert last(core).feed.frames == 8 * 600
    assert said(outputs, "stray_block") == []


@pytest.mark.fault(
    "a block of the stream before a restart comes late, in the middle of a delivery",
    "it is left out, counted and said; every pitch is the same",
)
@pytest.mark.parametrize("batch", [1, 50])
def test_a_late_block_of_the_stream_before_changes_no_pitch(batch: int, measured: Measured) -> None:
    before, after = good()[:5], [changed(packet, stream="s2") for packet in good()[5:]]
    whole = pitches(run([*before, *after])[1])
    contact = whole[0].foot_contact_frame
    assert contact is not None
    at = int(contact) // 8 - 5
    late = Packet(before[0].topic, before[0].payload, after[at].received_ns)
    after.insert(at, late)
    packets, core, outputs = [*before, *after], session(PLAN).pipeline(), list[Output]()
    for start in range(0, len(packets), batch):
        outputs += core.receive_many(packets[start : start + batch])
    outputs += core.finish()
    assert pitches(outputs) == whole
    assert len(said(outputs, "late_stream")) == 1
    now = last(core).feed
    assert (now.restarts, now.gaps, now.rejected) == (1, 0, {"late_stream": 1})
    measured(f"1 block left out, {len(whole)} pitches unchanged")


@pytest.mark.fault(
    "two devices send under the name of one mound",
    "the one that came last is measured as if it were alone; the operator is told of the other",
)
def test_two_devices_under_one_name(measured: Measured) -> None:
    whole = pitches(run(good())[1])
    both = [p for packet in good() for p in (changed(packet, stream="other"), packet)]
    core, outputs = run(both)
    assert pitches(outputs) == whole
    now = last(core)
    assert now.feed.restarts == 1
    assert "two_devices" in [s.key for s in now.sentences]
    assert "pace" not in [s.key for s in now.sentences]
    assert sum(now.feed.rejected.values()) == len(good()) - 1, "what was left out is counted"
    measured(f"1 restart in {len(both)} messages, {len(whole)} pitches unchanged")


@pytest.mark.fault(
    "messages that are bad in each way there is",
    "each is refused, counted by its reason and shown with it; the feed goes on",
)
def test_each_refusal_is_counted_by_reason_and_shown(measured: Measured) -> None:
    core = session(PLAN).pipeline()
    force, payload = good()[0].topic, good()[0].payload
    table = msgspec.msgpack.decode(payload)
    nothing = np.full(12, np.nan, "<f4").tobytes()
    bad: dict[Refusal, tuple[str, bytes]] = {
        Refusal.UNREADABLE: (force, b"\xc1\xff"),
        Refusal.WRONG_VERSION: (force, msgspec.msgpack.encode({**table, "v": 2})),
        Refusal.BAD_FIELD: (force, msgspec.msgpack.encode({**table, "first_frame": "x"})),
        Refusal.WRONG_SOURCE: (force, msgspec.msgpack.encode({**table, "source": "mound-x"})),
        Refusal.WRONG_SHAPE: (force, msgspec.msgpack.encode({**table, "frames": b"123"})),
        Refusal.TOO_LARGE: (force, msgspec.msgpack.encode({**table, "frames": bytes(48 * 2001)})),
        Refusal.NOT_FINITE: (force, msgspec.msgpack.encode({**table, "frames": nothing})),
        Refusal.OUT_OF_RANGE: (
            f"moundfeed/{SOURCE}/speed",
            encode_speed(SpeedMessage(SOURCE, 0, 900.0)),
        ),
        Refusal.UNKNOWN_TOPIC: (f"moundfeed/{SOURCE}/gossip", b""),
    }
    assert set(bad) == set(Refusal), "every reason there is"
    for topic, spoilt in bad.values():
        core.receive(Packet(topic, spoilt, 1))
    core.receive(good()[0])
    shown = core.snapshot(good()[0].received_ns)
    assert shown.feed.rejected == {reason.value: 1 for reason in bad}
    told = core.health(good()[0].received_ns)["feed"]
    assert isinstance(told, dict)
    assert told["rejected"] == shown.feed.rejected
    assert shown.feed.frames == 8
    measured(f"{len(bad)} reasons, each counted once")


@pytest.mark.fault(
    "ball speeds without end whose clock is years ahead",
    "few wait for their pitch; the others are told as unpaired, none is lost without a word",
)
def test_ball_speeds_of_the_far_future_do_not_heap_up() -> None:
    core = session(PLAN).pipeline()
    outputs: list[Output] = []
    for number in range(500):
        speed = encode_speed(SpeedMessage(SOURCE, 2**62 + number, 36.0))
        outputs += core.receive(Packet(f"moundfeed/{SOURCE}/speed", speed, number))
    told = sum(isinstance(o, UnpairedSpeed) for o in outputs)
    assert told >= 480
    assert told + sum(isinstance(o, UnpairedSpeed) for o in core.finish()) == 500
