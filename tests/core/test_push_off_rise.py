"""The push-off's rise is the push's own, not that of the weight coming onto the drive leg."""

from __future__ import annotations

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.metrics.push_off import drive_rise_bw_per_s
from stream.movement import Foot, Movement
from stream.outputs import Output, Pitch
from tests.core.mounds import force_packet, session

WEIGHT_N, RATE_HZ = 800.0, 200.0


def upright(share: np.ndarray) -> Foot:
    """A foot that bears ``share`` (n,) of body weight straight down."""
    force = np.zeros((len(share), 3))
    force[:, 2] = share * WEIGHT_N
    return Foot(force, np.zeros((len(share), 2)))


def test_the_weight_that_comes_over_while_the_leg_is_lifted_is_left_out() -> None:
    # Invented: 40 % of body weight comes over in 0.1 s (400 % a second), then a push of 60 % a
    # second. The forward force had passed its threshold while the weight came over.
    at = [0.0, 100.0, 120.0, 200.0, 300.0, 400.0]
    frames = np.arange(400.0)
    drive = np.interp(frames, at, [0.6, 0.6, 1.0, 1.0, 1.3, 1.3])
    lead = np.interp(frames, at, [0.4, 0.4, 0.0, 0.0, 0.0, 0.0])
    movement = Movement(
        rate_hz=RATE_HZ,
        drive=upright(drive),
        lead=upright(lead),
        deck=upright(drive + lead).force,
        missing=np.zeros(400, dtype=bool),
        quiet=(0, 90),
        still_until=0,
        weight_n=WEIGHT_N,
        throws="R",
        height_m=1.8,
        events={"drive_onset": 105.0, "drive_peak": 300.0},
    )
    assert drive_rise_bw_per_s(movement) == pytest.approx(60.0, rel=0.01)


def test_a_slow_push_off_of_the_simulator_has_the_rise_that_it_states() -> None:
    # Invented: this session's second pitch is a gentle one.
    plan = Plan(seed=40, pitches=2, pitchers=1, traffic=0.0, quick=True, wide=True)
    invented = session(plan)
    core, out = invented.pipeline(), list[Output]()
    for start in range(0, len(invented.samples), 1000):
        out += core.receive(force_packet(start, invented.samples[start : start + 1000]))
    told = [o.record for o in out if isinstance(o, Pitch)]
    for record, thrown in zip(told, invented.scenario.pitches, strict=True):
        true = thrown.truth().metrics["drive_rise_bw_per_s"]
        assert record.metrics["drive_rise_bw_per_s"] == pytest.approx(true, rel=0.02)
