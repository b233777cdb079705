"""The truth of a pitch, computed a second way: plain sums over finely sampled forces."""

from __future__ import annotations

import numpy as np
import pytest

from simulators.contacts import Role
from simulators.curves import Array
from simulators.pitcher import Delivery
from simulators.truth import measure
from stream.metrics import METRICS
from tests.simulators.simulated import delivery, total_force

_STEP = 2e-4


class _Plain:
    """Forces of both legs on a 5 kHz grid around foot contact."""

    def __init__(self, d: Delivery) -> None:
        self.t = np.arange(d.contact - 1.6, d.contact + 0.5, _STEP)
        drive = tuple(c for c in d.contacts if c.role is Role.DRIVE and c.start < d.drive_end)
        lead = tuple(c for c in d.contacts if c.role is Role.LEAD)
        self.drive = total_force(drive, self.t)
        self.lead = total_force(lead, self.t)
        self.weight = d.profile.body.weight_n
        before = self.t < d.contact - 0.05
        up = (self.lead[:, 2] >= 0.1 * self.weight) & ~before
        self.contact = int(np.argmax(up))

    def between(self, start: float, end: float) -> slice:
        zero = self.t[self.contact]
        return slice(*np.searchsorted(self.t, (zero + start, zero + end)))


def _value(values: dict[str, float | None], key: str) -> float:
    value = values[key]
    assert value is not None, key
    return value


@pytest.mark.parametrize("seed", range(6))
def test_events_and_metrics_by_plain_sums(seed: int) -> None:
    d = delivery(seed)
    truth, p = measure(d), _Plain(d)
    ev, m, w = truth.events_s, truth.metrics, p.weight
    assert p.t[p.contact - 1] - 1e-6 < truth.contact < p.t[p.contact] + 1e-6
    onset, brake_end = _value(ev, "drive_onset"), _value(ev, "brake_end")
    push, brake = p.between(onset, 0.0), p.between(0.0, brake_end)
    until = p.between(onset, _value(ev, "drive_toe_off"))

    def size(force: Array) -> float:
        return float(np.linalg.norm(force, axis=1).max()) / w * 100

    assert _value(m, "drive_peak_bw") == pytest.approx(size(p.drive[until]), rel=1e-4)
    assert _value(m, "landing_peak_bw") == pytest.approx(size(p.lead[brake]), rel=1e-3)
    assert _value(m, "drive_forward_bw") == pytest.approx(
        p.drive[until, 0].max() / w * 100, rel=1e-4
    )
    assert _value(m, "landing_braking_bw") == pytest.approx(
        -p.lead[brake, 0].min() / w * 100, rel=1e-3
    )
    assert _value(m, "drive_forward_impulse_ns") == pytest.approx(
        p.drive[push, 0].sum() * _STEP, rel=2e-3
    )
    assert _value(m, "landing_braking_impulse_ns") == pytest.approx(
        -p.lead[brake, 0].sum() * _STEP, rel=2e-3
    )
    whole = p.drive + p.lead
    assert _value(m, "drive_vertical_impulse_ns") == pytest.approx(
        (whole[push, 2] - w).sum() * _STEP, abs=0.4
    )


@pytest.mark.parametrize("seed", range(6))
def test_work_is_the_change_of_kinetic_energy(seed: int) -> None:
    d = delivery(seed)
    truth = measure(d)
    m, mass = truth.metrics, d.profile.body.mass_kg
    first = truth.contact + _value(truth.events_s, "first_move")
    start = d.way.velocity(np.array([first]))[0, 0]
    at_contact = _value(m, "forward_speed_mps")
    left = _value(m, "forward_speed_remaining_mps")
    gained = 0.5 * mass * (at_contact**2 - start**2)
    assert _value(m, "drive_work_j") == pytest.approx(gained, rel=2e-3)
    lost = 0.5 * mass * (left**2 - at_contact**2)
    assert _value(m, "braking_work_j") == pytest.approx(lost, rel=2e-3)


def test_events_are_in_their_order() -> None:
    for seed in range(9):
        ev = measure(delivery(seed)).events_s
        order = ("first_move", "drive_onset", "drive_peak", "foot_contact", "foot_plant")
        times = [_value(ev, key) for key in order]
        assert times == sorted(times)
        assert _value(ev, "foot_plant") < _value(ev, "landing_peak") < _value(ev, "brake_end")


def test_truth_has_every_metric_that_is_measured() -> None:
    assert set(measure(delivery(0)).metrics) == {metric.key for metric in METRICS}
