"""Impulses and peaks against mechanics worked by hand and real records of a library."""

import math

import numpy as np
import pytest
import spm1d

from stream.curves import integral, peak_position, running_integral, steepest_slope
from stream.movement import STANDARD_GRAVITY

RATE = 200.0


def test_standard_gravity_is_the_published_one() -> None:
    # NIST SP 811 (2008), appendix B.8: 9.806 65 m/s2 exactly.
    assert STANDARD_GRAVITY == 9.80665


def test_a_jump_flight_time_against_its_impulse() -> None:
    # Impulse-momentum: (integral of F - W) / m = take-off speed = g * flight time / 2.
    mass, flight = 80.0, 0.5
    speed = STANDARD_GRAVITY * flight / 2.0
    duration = 0.30
    t = np.arange(round(duration * RATE) + 1) / RATE
    # A half sine above body weight whose area is m v.
    net = mass * speed * math.pi / (2.0 * duration) * np.sin(math.pi * t / duration)
    got = integral(net, 0.0, duration * RATE, RATE) / mass
    assert 2.0 * got / STANDARD_GRAVITY == pytest.approx(flight, rel=1e-3)


def test_a_dropped_mass_stops_by_its_own_momentum() -> None:
    # 20 kg from 0.2 m: m sqrt(2 g h) is taken out while the deck also bears its weight.
    mass, height, stop = 20.0, 0.2, 0.1
    speed = math.sqrt(2.0 * STANDARD_GRAVITY * height)
    t = np.arange(round(stop * RATE) + 1) / RATE
    deck = mass * STANDARD_GRAVITY + mass * speed / stop * (1.0 - np.cos(2 * math.pi * t / stop))
    lost = integral(deck - mass * STANDARD_GRAVITY, 0.0, stop * RATE, RATE)
    assert lost == pytest.approx(mass * speed, rel=1e-6)


def test_a_pendulum_swings_back_to_the_speed_it_had() -> None:
    # Small pendulum on the deck: Fx = -m g a sin(w t); a whole period leaves no net impulse.
    mass, length, angle = 10.0, 1.0, 0.05
    omega = math.sqrt(STANDARD_GRAVITY / length)
    period = 2.0 * math.pi / omega * RATE
    t = np.arange(math.ceil(period) + 1) / RATE
    force = -mass * STANDARD_GRAVITY * angle * np.sin(omega * t)
    half = integral(force, 0.0, period / 2.0, RATE)
    assert half == pytest.approx(-2.0 * mass * STANDARD_GRAVITY * angle / omega, rel=1e-3)
    assert integral(force, 0.0, period, RATE) == pytest.approx(0.0, abs=1e-3 * abs(half))


def test_running_integral_ends_where_the_integral_does() -> None:
    values = np.random.default_rng(1).standard_normal(100)
    total = running_integral(values, 10.4, RATE)
    assert total[60] == pytest.approx(integral(values, 10.4, 60.0, RATE), abs=1e-12)
    assert not total[:11].any()


def test_real_running_and_walking_records() -> None:
    # Dorn, Schache & Pandy 2012, J Exp Biol 215:1944, as carried by spm1d: trial 0, by stance.
    forces, _ = spm1d.data.mv1d.cca.Dorn2012().get_data()
    by_size = sorted(range(3), key=lambda k: float(np.abs(forces[0, :, k]).max()))
    vertical, fore_aft = forces[0, :, by_size[2]], forces[0, :, by_size[1]]
    assert vertical.max() == pytest.approx(2008.1130, abs=1e-3)
    assert peak_position(vertical, 0.0, 99.0) == pytest.approx(42.0, abs=0.5)
    assert peak_position(-fore_aft, 0.0, 99.0) == pytest.approx(23.0, abs=0.5)
    assert peak_position(fore_aft, 0.0, 99.0) == pytest.approx(70.0, abs=0.5)
    assert integral(vertical, 0.0, 99.0, 99.0) == pytest.approx(1163.001003, abs=1e-4)


def test_steepest_slope_of_a_ramp_and_of_a_sine() -> None:
    ramp = 3.0 * np.arange(50, dtype=float)
    assert steepest_slope(ramp, 2.5, 40.0, 10.0) == pytest.approx(3.0)
    # The greatest mean slope of a sine over a span h is 2 sin(w h / 2) / h.
    w = 2.0 * math.pi / 80.0
    sine = np.sin(w * np.arange(161, dtype=float))
    assert steepest_slope(sine, 0.0, 160.0, 10.0) == pytest.approx(
        2.0 * math.sin(w * 5.0) / 10.0, rel=2e-3
    )
    assert steepest_slope(sine, 3.0, 9.0, 10.0) is None
