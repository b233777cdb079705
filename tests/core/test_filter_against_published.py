"""The zero-phase low-pass against the textbook's correction, closed forms and SciPy."""

import numpy as np
import pytest
from scipy.signal import butter, filtfilt

from stream.filters import TWO_PASS_CORRECTION, design_cutoff, low_pass


def gain(frequency: float, cutoff: float, rate: float = 200.0) -> float:
    """Amplitude that a long sine keeps, away from its ends."""
    t = np.arange(8000) / rate
    kept = low_pass(np.sin(2 * np.pi * frequency * t)[:, None], cutoff, rate)[2000:6000, 0]
    return float(np.sqrt(2.0 * np.mean(kept**2)))


def test_correction_factor_of_two_passes() -> None:
    # Winter, Biomechanics and Motor Control of Human Movement, 4th ed., p. 69: 0.802.
    assert pytest.approx(0.802, abs=5e-4) == TWO_PASS_CORRECTION


@pytest.mark.parametrize(
    ("wanted", "designed"),
    # Arithmetic of the tangent-warped correction (Robertson et al., Research Methods in
    # Biomechanics, 2nd ed., p. 288) at 200 Hz.
    [(10.0, 12.409), (12.0, 14.862), (20.0, 24.499), (40.0, 46.850), (50.0, 56.958)],
)
def test_design_cutoff_is_corrected_on_the_warped_frequency(wanted: float, designed: float) -> None:
    assert design_cutoff(wanted, 200.0) == pytest.approx(designed, abs=1e-3)


def test_two_passes_are_3_db_down_at_the_cutoff() -> None:
    assert gain(20.0, 20.0) == pytest.approx(np.sqrt(0.5), abs=2e-4)
    assert gain(40.0, 40.0) == pytest.approx(np.sqrt(0.5), abs=2e-4)


@pytest.mark.parametrize("frequency", [5.0, 10.0, 30.0, 60.0])
def test_gain_is_the_closed_form_of_two_butterworth_passes(frequency: float) -> None:
    # |H|^2 of a 2nd-order Butterworth: 1 / (1 + w^4), w on the tangent-warped axis.
    w = np.tan(np.pi * frequency / 200.0) / np.tan(np.pi * design_cutoff(20.0, 200.0) / 200.0)
    assert gain(frequency, 20.0) == pytest.approx(1.0 / (1.0 + w**4), abs=3e-4)


def test_equals_scipy_filtfilt_with_the_corrected_design() -> None:
    rng = np.random.default_rng(4)
    values = np.cumsum(rng.standard_normal((600, 3)), axis=0)
    b, a = butter(2, design_cutoff(40.0, 200.0), fs=200.0)
    assert np.array_equal(low_pass(values, 40.0, 200.0), filtfilt(b, a, values, axis=0))


@pytest.mark.parametrize("length", [10, 11, 50])
def test_short_windows_equal_scipy_too_and_shorter_ones_are_refused(length: int) -> None:
    values = 1000.0 * np.random.default_rng(length).standard_normal((length, 2))
    b, a = butter(2, design_cutoff(20.0, 200.0), fs=200.0)
    assert np.array_equal(low_pass(values, 20.0, 200.0), filtfilt(b, a, values, axis=0))
    with pytest.raises(ValueError, match="too few"):
        low_pass(values[:9], 20.0, 200.0)


def test_no_cutoff_or_one_beyond_half_the_rate_leaves_the_values() -> None:
    values = np.random.default_rng(5).standard_normal((50, 2))
    assert low_pass(values, None, 200.0) is values
    assert low_pass(values, 120.0, 200.0) is values


def test_residual_analysis_of_white_noise() -> None:
    # Winter, 4th ed., section 3.4.4.3: the residual between raw and low-passed data, by cut-off.
    # For white noise it is sigma times the RMS of what the filter takes away, in closed form.
    noise = 10.0 * np.random.default_rng(6).standard_normal((40_000, 1))
    frequencies = np.linspace(0.0, 99.999, 5000)
    residuals = []
    for cutoff in (20.0, 40.0, 60.0):
        w = np.tan(np.pi * frequencies / 200.0) / np.tan(np.pi * design_cutoff(cutoff, 200.0) / 200)
        expected = 10.0 * np.sqrt(np.mean((1.0 - 1.0 / (1.0 + w**4)) ** 2))
        residuals.append(float((noise - low_pass(noise, cutoff, 200.0)).std()))
        assert residuals[-1] == pytest.approx(expected, rel=0.02)
    assert residuals == sorted(residuals, reverse=True)
