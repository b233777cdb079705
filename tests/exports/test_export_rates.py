"""Resampling beside a motion capture: rates, kept samples, and the error that is told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal
from scipy.interpolate import CubicSpline

from analysis.exports.errors import ExportError
from analysis.exports.rates import plan_rates, resample
from simulators.deck import Plates
from simulators.scenario import Plan, compose
from stream.files import load_layout
from stream.filters import low_pass
from stream.forces import platform_forces


@pytest.mark.parametrize(
    ("feed", "point", "analog", "per_point", "up"),
    [
        (200.0, None, 200.0, 1, 1),
        (200.0, 250.0, 1000.0, 4, 5),
        (200.0, 100.0, 200.0, 2, 1),
        (200.0, 200.0, 200.0, 1, 1),
        (200.0, 240.0, 1200.0, 5, 6),
        (200.0, 400.0, 400.0, 1, 2),
        (1000.0, 250.0, 1000.0, 4, 1),
        (200.0, 120.0, 600.0, 5, 3),
    ],
)
def test_analog_is_a_whole_multiple_of_both(
    feed: float, point: float | None, analog: float, per_point: int, up: int
) -> None:
    """C3D user guide, ANALOG:RATE: a whole multiple of the point rate."""
    plan = plan_rates(feed, point)
    assert (plan.analog_hz, plan.per_point, plan.up) == (analog, per_point, up)
    assert plan.analog_hz == plan.per_point * plan.point_hz == plan.up * feed


@pytest.mark.parametrize("point", [251.0, 0.0, -5.0, 249.99])
def test_rates_that_do_not_fit(point: float) -> None:
    with pytest.raises(ExportError):
        plan_rates(200.0, point)


def pulse(t: np.ndarray) -> np.ndarray:
    """An invented landing of 2,087 N, its peak 45 ms after contact."""
    return 2087.0 * np.exp(-(((t - 0.5) / 0.045) ** 2))


def test_error_on_a_known_pulse() -> None:
    t, fine_t = np.arange(0, 1.0, 1 / 200), np.arange(0, 1.0, 1 / 1000)
    fine, error = resample(pulse(t)[:, None], 5)
    truth = pulse(fine_t[: len(fine)])
    wrong = np.abs(fine[:, 0] - truth).max()
    assert wrong < 0.1
    assert wrong / 2 < error[0] < 2 * wrong + 0.01
    np.testing.assert_array_equal(fine[::5, 0], pulse(t))


def test_against_scipys_own_resampling() -> None:
    """SciPy: its cubic spline is the same curve; its Fourier resampling, exact for a signal
    without content above half the rate, agrees within the error told.
    """
    t = np.arange(0, 1.0, 1 / 200)
    fine, error = resample(pulse(t)[:, None], 5)
    spline = CubicSpline(t, pulse(t))(np.arange(len(fine)) / 1000)
    np.testing.assert_allclose(fine[:, 0], spline, atol=1e-9)
    fourier = signal.resample(pulse(t), 1000)[: len(fine)]
    assert np.abs(fine[:, 0] - fourier).max() < 2 * error[0] + 0.01
    poly = signal.resample_poly(pulse(t), 5, 1)[: len(fine)]
    assert np.abs(poly - pulse(np.arange(len(fine)) / 1000)).max() > 10 * error[0]


def test_error_on_simulated_deliveries_is_under_half_a_per_cent() -> None:
    """The invented bodies are analytic: what 1,000 Hz would have read is known.

    Within the measurement's band (40 Hz) the whole curve is; of the unfiltered curve, whose first
    20 ms after contact are faster than 200 Hz can follow, every channel's peak is.
    """
    layout = load_layout("two-plates")
    scenario = compose(Plan(seed=3, pitches=3, pitchers=3, quick=True, traffic=0.0), layout.deck)
    plates = Plates(layout)
    for pitch in scenario.pitches:
        t = np.floor(200 * (pitch.contact - 1.5)) / 200 + np.arange(2496) / 1000
        raw = platform_forces(layout, plates.read(scenario.contacts, t)).force.reshape(len(t), 6)
        largest = np.abs(raw).max()
        banded = low_pass(raw, 40.0, 1000.0)
        fine, told = resample(banded[::5], 5)
        wrong = np.abs(fine - banded).max() / largest
        assert wrong < 0.002
        assert wrong < 3 * told.max() / largest < 0.005
        fine, told = resample(raw[::5], 5)
        peaks = np.abs(np.abs(fine).max(axis=0) - np.abs(raw).max(axis=0)).max()
        assert peaks / largest < 0.005
        assert told.max() / largest < 0.005
        assert np.abs(fine - raw).max() / largest < 0.025
