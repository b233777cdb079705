"""Pitches are found, told at once and measured; other movements are not counted.

All data are invented: the simulator's sessions, with the truth it states.
"""

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.outputs import FootContact, Pitch
from tests.core.mounds import Session, session


def run(invented: Session, block: int = 4) -> list[object]:
    core = invented.pipeline()
    out: list[object] = []
    for packet in invented.packets(block):
        out += core.receive(packet)
    return out + list(core.finish())


@pytest.mark.parametrize("layout", ["two-plates", "tiled", "four-corner"])
def test_each_pitch_once_and_nothing_else(layout: str) -> None:
    invented = session(Plan(seed=31, pitches=6, quick=True, traffic=1.0), layout)
    found = [o.record for o in run(invented, 50) if isinstance(o, Pitch)]
    true = np.array([t.contact * 200 for t in invented.scenario.pitches])
    seen = np.array([r.foot_contact_frame for r in found], dtype=float)
    assert len(seen) == len(true)
    # 3 ms at worst, noiseless; an estimate where both feet share one rigid deck.
    assert np.abs(seen - true).max() * 5.0 < (3.0 if layout != "four-corner" else 10.0)


def test_contact_is_told_within_25_ms_of_feed() -> None:
    invented = session(Plan(seed=31, pitches=6, quick=True, traffic=1.0))
    told = [o for o in run(invented, 1) if isinstance(o, FootContact)]
    true = np.array([t.contact * 200 for t in invented.scenario.pitches])
    for contact in true:
        nearest = min(told, key=lambda o: abs(o.frame - contact))
        assert 0 <= (nearest.seen_frame - contact) * 5.0 <= 25.0


def test_measured_values_are_the_truth_stated_by_the_simulator() -> None:
    invented = session(Plan(seed=32, pitches=6, quick=True, traffic=0.0))
    found = [o.record for o in run(invented, 50) if isinstance(o, Pitch)]
    for record, thrown in zip(found, invented.scenario.pitches, strict=True):
        truth = thrown.truth()
        assert record.body_weight_n == pytest.approx(truth.body_weight_n, rel=0.01)
        for key in ("drive_peak_n", "landing_peak_n", "drive_forward_impulse_ns", "stride_m"):
            assert record.metrics[key] == pytest.approx(truth.metrics[key], rel=0.02), key
