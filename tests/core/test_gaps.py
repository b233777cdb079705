"""A gap inside a pitch makes null exactly what it touches, and says so."""

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.actions import ChoosePitcher, encode_action
from stream.outputs import (
    Fault,
    Gap,
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Output,
    Pitch,
    PitchRecord,
)
from stream.wire import Packet, TopicKind, topic
from tests.core.mounds import SOURCE, Session, force_packet, session

PLAN = Plan(seed=32, pitches=1, quick=True, traffic=0.0)


def outputs_with_gap(invented: Session, start: int, frames: int, first: int = 0) -> list[Output]:
    core = invented.pipeline()
    out = []
    for at in range(first, len(invented.samples), 4):
        block = invented.samples[at : at + 4]
        if start <= at < start + frames:
            continue
        out += core.receive(force_packet(at, block))
    return out + core.finish()


def run_with_gap(invented: Session, start: int, frames: int) -> tuple[PitchRecord, list[Gap]]:
    out = outputs_with_gap(invented, start, frames)
    (pitch,) = [o.record for o in out if isinstance(o, Pitch)]
    return pitch, [o for o in out if isinstance(o, Gap)]


def told(outputs: list[Output]) -> list[PitchRecord | NotCountedRecord]:
    return [o.record for o in outputs if isinstance(o, Pitch | NotCounted)]


def whole(invented: Session) -> PitchRecord:
    return run_with_gap(invented, -1, 0)[0]


@pytest.mark.fault(
    "frames are missing inside a pitch",
    "exactly the metrics that rest on them are empty and flagged",
)
def test_a_gap_in_the_braking_touches_braking_only() -> None:
    invented = session(PLAN)
    full = whole(invented)
    assert full.foot_contact_frame is not None
    start = int(full.foot_contact_frame) // 4 * 4 + 28
    pitch, gaps = run_with_gap(invented, start, 8)
    assert [g.frames for g in gaps] == [8]
    assert pitch.metrics["landing_braking_impulse_ns"] is None
    assert pitch.metrics["landing_peak_n"] is None
    assert "feed_gap" in pitch.flags
    assert pitch.metrics["drive_peak_n"] == pytest.approx(full.metrics["drive_peak_n"], rel=1e-9)
    assert pitch.foot_contact_frame == full.foot_contact_frame


@pytest.mark.fault(
    "the frames of foot contact itself are missing",
    "no contact time is made up",
)
def test_a_gap_in_the_contact_itself_gives_no_contact_time() -> None:
    invented = session(PLAN)
    full = whole(invented)
    assert full.foot_contact_frame is not None
    start = int(full.foot_contact_frame) // 4 * 4 - 4
    pitch, _ = run_with_gap(invented, start, 8)
    assert pitch.foot_contact_frame is None
    assert all(at is None for at in pitch.events_s.values())
    assert pitch.metrics["drive_time_s"] is None
    assert pitch.metrics["landing_peak_n"] is None
    assert pitch.body_weight_n == full.body_weight_n
    assert pitch.flags == ("feed_gap",)


def test_no_gap_leaves_nothing_null() -> None:
    full = whole(session(PLAN))
    assert not [key for key, value in full.metrics.items() if value is None]
    assert not full.flags
    assert np.isfinite([v for v in full.metrics.values() if v is not None]).all()


def contact_of(invented: Session) -> int:
    contact = whole(invented).foot_contact_frame
    assert contact is not None
    return int(contact) // 4 * 4


@pytest.mark.fault(
    "0.1 to 0.5 s are missing somewhere in a delivery",
    "a pitch whose values are those of the whole feed or empty, or a movement left open",
)
@pytest.mark.parametrize("frames", [20, 40, 60, 100])
def test_a_long_gap_makes_up_neither_a_value_nor_a_reason(frames: int) -> None:
    invented = session(PLAN)
    contact = contact_of(invented)
    first = contact - 1600
    (full,) = told(outputs_with_gap(invented, -1, 0, first))
    assert isinstance(full, PitchRecord)
    pitches = 0
    for start in range(contact - 240, contact + 24, 24):
        (found,) = told(outputs_with_gap(invented, start, frames, first))
        if isinstance(found, NotCountedRecord):
            assert found.not_counted is NotCountedReason.FEED_GAP
            assert found.why.startswith(f"{frames / 200:.2f} s of the movement never arrived")
            continue
        pitches += 1
        measured = {k: v for k, v in found.metrics.items() if v is not None}
        for key, value in measured.items():
            assert value == pytest.approx(full.metrics[key], rel=0.05), (key, start - contact)
        for key, at in found.events_s.items():
            assert at is None or at == pytest.approx(full.events_s[key], abs=0.005), key
    assert pitches >= (8 if frames <= 40 else 3)


@pytest.mark.fault(
    "the feed is away for more than 2 s before a landing",
    "it is told that a pitch may be missing",
)
def test_a_hole_while_the_pitcher_moves_is_told() -> None:
    invented = session(PLAN)
    out = outputs_with_gap(invented, contact_of(invented) - 100, 500)
    (left,) = told(out)
    assert isinstance(left, NotCountedRecord)
    assert left.not_counted is NotCountedReason.FEED_GAP
    assert "a pitch may be missing" in left.why


def test_a_hole_while_nobody_is_set_is_no_movement() -> None:
    invented = session(PLAN)
    assert told(outputs_with_gap(invented, 200, 500)) == [whole(invented)]


@pytest.mark.fault(
    "the device starts again during a delivery",
    "it is told that a pitch may be missing, under the stream that it belonged to",
)
@pytest.mark.parametrize("before", [60, -8])
def test_a_restart_within_a_delivery_is_told(before: int) -> None:
    invented = session(PLAN)
    core, out = invented.pipeline(), []
    restart = contact_of(invented) - before
    for at in range(0, len(invented.samples), 4):
        stream, first = ("s1", at) if at < restart else ("s2", at - restart)
        out += core.receive(force_packet(first, invented.samples[at : at + 4], stream))
    (left,) = told(out + core.finish())
    assert isinstance(left, NotCountedRecord)
    assert left.not_counted is NotCountedReason.FEED_GAP
    assert (left.stream, left.frame) == ("s1", restart)


@pytest.mark.parametrize(("after", "thrower"), [(-200, "NEXT"), (12, None), (32, None)])
def test_who_is_chosen_after_the_landing_throws_the_next_pitch(
    after: int, thrower: str | None
) -> None:
    invented = session(PLAN)
    full = whole(invented)
    chosen = contact_of(invented) + after
    core, out = invented.pipeline(), []
    choice = encode_action(ChoosePitcher(source=SOURCE, t_ns=0, pitcher="NEXT"))
    for at in range(0, len(invented.samples), 4):
        if at == chosen:
            out += core.receive(Packet(topic(SOURCE, TopicKind.OPERATOR), choice, 0))
        out += core.receive(force_packet(at, invented.samples[at : at + 4]))
    (pitch,) = told(out + core.finish())
    assert isinstance(pitch, PitchRecord)
    assert pitch.pitcher == (thrower or full.pitcher)
    assert core.pitcher == "NEXT"


@pytest.mark.fault(
    "so much of the feed never comes that a whole pitch may lie in it",
    "it is told with its length, and that a pitch thrown then is not in the list",
)
@pytest.mark.parametrize(("lost_s", "says"), [(1.5, None), (13.0, "13 s of the feed never came")])
def test_a_gap_in_which_a_pitch_may_lie_is_told_as_such(lost_s: float, says: str | None) -> None:
    core = session(PLAN).pipeline()
    empty = np.full((400, 12), 5.0, np.float32)
    out = core.receive(force_packet(0, empty))
    out += core.receive(force_packet(400 + round(lost_s * 200), empty))
    told = [o.say for o in out if isinstance(o, Fault) and "not in the list" in o.say]
    assert [say[: len(says or "")] for say in told] == ([] if says is None else [says])
