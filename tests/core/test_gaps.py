"""A gap inside a pitch makes null exactly what it touches, and says so."""

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.outputs import Gap, Pitch, PitchRecord
from tests.core.mounds import Session, force_packet, session

PLAN = Plan(seed=32, pitches=1, quick=True, traffic=0.0)


def run_with_gap(invented: Session, start: int, frames: int) -> tuple[PitchRecord, list[Gap]]:
    core = invented.pipeline()
    out = []
    for at in range(0, len(invented.samples), 4):
        block = invented.samples[at : at + 4]
        if start <= at < start + frames:
            continue
        out += core.receive(force_packet(at, block))
    out += core.finish()
    (pitch,) = [o.record for o in out if isinstance(o, Pitch)]
    return pitch, [o for o in out if isinstance(o, Gap)]


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
