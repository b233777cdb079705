"""The push-off begins when it moves the body, not while the feet push against each other."""

from __future__ import annotations

import numpy as np
import pytest

from simulators.scenario import Plan
from simulators.timeline import RATE_HZ
from stream.outputs import Pitch, PitchRecord
from stream.wire import Samples
from tests.core.mounds import Session, force_packet, session

#: The forward and the vertical channels of the rear and of the front plate.
REAR_X, REAR_Z, FRONT_X, FRONT_Z = 0, 2, 6, 8
#: Invented: what each foot pushes the other one (some 7 % of body weight), and a foot's load, N.
SPLAY_N, FOOT_N = 60.0, 100.0
OFFSET_N = 5.0


def the_pitch(invented: Session, samples: Samples) -> PitchRecord:
    core, out = invented.pipeline(), []
    for start in range(0, len(samples), 1000):
        out += core.receive(force_packet(start, samples[start : start + 1000]))
    (pitch,) = [o.record for o in out + core.finish() if isinstance(o, Pitch)]
    return pitch


@pytest.mark.parametrize("seed", [2, 5])
def test_a_push_held_from_the_set_position_on_begins_as_the_lead_foot_leaves(seed: int) -> None:
    invented = session(Plan(seed=seed, pitches=1, quick=True, traffic=0.0))
    plain = the_pitch(invented, invented.samples)
    contact, weight = plain.foot_contact_frame, plain.body_weight_n
    assert contact is not None
    assert weight is not None
    splayed = invented.samples.copy()
    before = splayed[: int(contact)]
    stands = before[:, REAR_Z] > FOOT_N
    before[stands, REAR_X] = np.maximum(before[stands, REAR_X], SPLAY_N + OFFSET_N)
    before[stands & (before[:, FRONT_Z] > 0.05 * weight + OFFSET_N), FRONT_X] -= SPLAY_N
    borne = np.flatnonzero(before[:, FRONT_Z] > 0.05 * weight + OFFSET_N)
    leaves_s = (borne[-1] + 1 - contact) / RATE_HZ
    pushed = the_pitch(invented, splayed)
    assert pushed.events_s["drive_onset"] == pytest.approx(leaves_s, abs=0.015)
    assert pushed.metrics["drive_time_s"] == pytest.approx(-leaves_s, abs=0.015)
