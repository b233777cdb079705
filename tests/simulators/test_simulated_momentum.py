"""A simulated pitch obeys Newton: forces alone, summed up numerically, give the body's motion."""

from __future__ import annotations

import numpy as np
import pytest

from simulators.body import GRAVITY
from simulators.contacts import Role
from simulators.profile import Style
from tests.simulators.simulated import delivery, profile, total_force

_STEP = 1e-3
CASES = [(seed, wide) for seed in range(9) for wide in (False, True)]


@pytest.mark.parametrize(("seed", "wide"), CASES)
def test_pitch_starts_and_ends_at_rest_and_keeps_momentum(seed: int, wide: bool) -> None:
    d = delivery(seed, wide=wide)
    body = d.profile.body
    t = (np.arange(int(d.end / _STEP)) + 0.5) * _STEP  # midpoint rule
    net = total_force(d.contacts, t) - (0.0, 0.0, body.weight_n)
    velocity = np.cumsum(net, axis=0) * _STEP / body.mass_kg
    assert np.abs(velocity[-1]).max() < 2e-3
    # The way of the centre of mass that the model draws is the one its forces make.
    at = np.searchsorted(t, d.contact)
    drawn = d.way.velocity(np.array([t[at] + 0.5 * _STEP]))[0]
    assert velocity[at, 0] == pytest.approx(drawn[0], abs=5e-3)
    assert velocity[at, 1] == pytest.approx(d.profile.side * drawn[1], abs=5e-3)
    assert velocity[at, 2] == pytest.approx(drawn[2], abs=5e-3)


@pytest.mark.parametrize("seed", range(6))
def test_forward_speed_at_contact_is_the_impulse_over_the_mass(seed: int) -> None:
    d = delivery(seed)
    t = np.arange(d.quiet[0], d.contact, 2e-4)
    impulse = np.trapezoid(total_force(d.contacts, t)[:, 0], t)
    start, end = d.way.velocity(np.array([d.quiet[0], t[-1]]))[:, 0]
    assert impulse / d.profile.body.mass_kg == pytest.approx(end - start, abs=2e-3)
    assert abs(start) < 0.02


@pytest.mark.parametrize("seed", range(9))
def test_centre_of_mass_falls_and_recovers_as_a_body_can(seed: int) -> None:
    d = delivery(seed)
    height = d.profile.body.height_m
    quiet, contact, end = d.way.position(np.array([d.quiet[1], d.contact, d.end - 1e-6]))[:, 2]
    # Common practice, no source: a long stride lowers the hips by a fifth of stature or so.
    assert 0.05 < (quiet - contact) / height < 0.48
    assert end == pytest.approx(d.way.position(np.zeros(1))[0, 2], abs=1e-6)
    assert d.way.velocity(np.array([d.contact]))[0, 2] < -0.1


@pytest.mark.parametrize("seed", range(9))
def test_the_ground_only_pushes_and_shoes_only_grip_so_far(seed: int) -> None:
    d = delivery(seed)
    weight = d.profile.body.weight_n
    for contact in d.contacts:
        t = np.linspace(contact.start, contact.end, 400, endpoint=False)
        force = contact.force(t)
        assert force[:, 2].min() > -1e-6 * weight
        bearing = force[:, 2] > 0.3 * weight
        along = np.hypot(force[:, 0], force[:, 1])
        # Spikes in clay hold more than their load (common practice, no source).
        assert (along[bearing] < 1.4 * force[bearing, 2]).all()


@pytest.mark.parametrize("style", list(Style))
def test_quiet_set_lasts_and_carries_the_weight(style: Style) -> None:
    d = delivery(3, style)
    t = np.arange(*d.quiet, 1e-2)
    vertical = total_force(d.contacts, t)[:, 2] / d.profile.body.weight_n
    assert d.quiet[1] - d.quiet[0] >= 1.2
    assert vertical.mean() == pytest.approx(1.0, abs=2e-3)
    assert 0.0 < vertical.std() < 0.015  # sways, and counts as quiet


def test_in_the_stretch_the_lead_foot_stands_on_the_slope_with_about_half_the_weight() -> None:
    shares = []
    for seed in range(12):
        d = delivery(seed, Style.STRETCH)
        t = np.arange(*d.quiet, 2e-2)
        lead = tuple(c for c in d.contacts if c.role is Role.LEAD and c.start < d.quiet[0])
        standing = max(lead, key=lambda c: c.start)
        shares.append(standing.force(t)[:, 2].mean() / d.profile.body.weight_n)
        assert (standing.pressure(t)[:, 0] > 0.1524).all()
    assert np.mean(shares) == pytest.approx(0.45, abs=0.06)


def test_left_handers_mirror_right_handers() -> None:
    hands = {"L": 0, "R": 0}
    for seed in range(12):
        d = delivery(seed, Style.STRETCH)
        t = np.array([d.contact - 0.2])
        drive = next(c for c in d.contacts if c.role is Role.DRIVE and c.start <= t[0] < c.end)
        towards_arm = drive.force(t)[0, 1] * (-1 if d.profile.throws == "R" else 1)
        assert towards_arm > 0
        hands[profile(seed).throws] += 1
    assert min(hands.values()) > 0


def test_standard_gravity() -> None:
    # NIST SP 811, appendix B.8: standard acceleration of free fall.
    assert GRAVITY == 9.80665
