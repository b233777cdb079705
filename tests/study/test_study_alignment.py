"""Two recordings on one clock: known offsets, drift and differences come back out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.study import alignment, traces
from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError


def force(t: np.ndarray) -> np.ndarray:
    """Invented push and landing, N."""
    push = 900 * np.exp(-(((t - 0.45) / 0.12) ** 2))
    return np.asarray(push + 1900 * np.exp(-(((t - 0.62) / 0.03) ** 2)))


@settings(max_examples=30, deadline=None)
@given(st.floats(-0.25, 0.25), st.sampled_from([200.0, 500.0, 1000.0]))
def test_correlation_finds_the_offset_between_samples(offset: float, rate: float) -> None:
    t1, t2 = np.arange(0, 1.2, 1 / 200), np.arange(0, 1.2, 1 / rate)
    found = alignment.by_correlation(t1, force(t1), t2, 1.1 * force(t2 + offset) + 20)
    assert found.offset_s == pytest.approx(offset, abs=0.0005)
    assert found.quality is not None
    assert found.quality > 0.995


def test_recordings_that_start_at_other_times() -> None:
    t1, t2 = np.arange(5.0, 6.2, 0.005), np.arange(-3.1, -1.5, 0.001)
    found = alignment.by_correlation(t1, force(t1 - 5.0), t2, force(t2 + 3.0))
    assert found.offset_s == pytest.approx(8.0, abs=0.0005)
    assert found.to_first(np.array([-3.0])) == pytest.approx([5.0], abs=0.0005)


def ramps(t: np.ndarray, starts: list[float]) -> np.ndarray:
    """Pulses that rise from 0 to 5 in 20 ms and end after 60 ms."""
    return np.asarray(sum(np.clip((t - s) / 0.02, 0, 1) * 5 * (t < s + 0.06) for s in starts))


def steps(t: Array, starts: list[float]) -> Array:
    """Pulses of 50 ms with edges of no width."""
    return np.asarray(sum(5.0 * ((t >= s) & (t < s + 0.05)) for s in starts))


def test_pulses_give_offset_and_drift() -> None:
    # True relation: first = second (1 + 40 ppm) + 0.25 s.
    first = [10.0 * i + 1.0 for i in range(8)]
    second = [(s - 0.25) / (1 + 40e-6) for s in first]
    t1, t2 = np.arange(0, 80, 0.005), np.arange(0, 80, 0.001)
    found = alignment.by_pulse(t1, ramps(t1, first), t2, ramps(t2, second))
    assert found.pulses == 8
    assert found.drift_ppm == pytest.approx(40, abs=5)
    assert found.offset_s == pytest.approx(0.25, abs=0.0003)
    assert found.step_s == pytest.approx(0.005)


@pytest.mark.parametrize("starts", [[3.0011], [3.0011, 3.5039], [3.0011, 4.0037, 5.0049]])
def test_close_pulses_tell_no_drift(starts: list[float]) -> None:
    """A pace from edges 5 ms wide and 2 s apart was off by 2,000 ppm, 0.7 s after six minutes."""
    t1, t2 = np.arange(0, 60, 0.001), np.arange(0, 60, 0.005)
    found = alignment.by_pulse(t1, steps(t1, [7.0 + s * (1 + 30e-6) for s in starts]), t2,
                               steps(t2, starts))  # fmt: skip
    assert found.drift_ppm == 0
    assert not found.error.drift_measured
    for at in (3.0, 350.0):
        wrong = found.to_first(np.array([at]))[0] - (7.0 + at * (1 + 30e-6))
        assert abs(wrong) < found.error.at(at)
    assert 0.0025 < found.error.at(3.0) < 0.0035
    assert 0.03 < found.error.at(350.0) < 0.04


def test_pulses_at_even_intervals_do_not_narrow_the_error() -> None:
    """They all meet the sampling at the same place: the error of one is the error of all."""
    starts = [1.0049 + 2.0 * i for i in range(25)]
    t1, t2 = np.arange(0, 60, 0.001), np.arange(0, 60, 0.005)
    found = alignment.by_pulse(t1, steps(t1, [s + 7.0 for s in starts]), t2, steps(t2, starts))
    assert found.pulses == 25
    assert 0.002 < abs(found.offset_s - 7.0) < found.error.offset_s


def test_two_pulses_far_apart_tell_the_drift() -> None:
    t1, t2 = np.arange(0, 700, 0.001), np.arange(0, 700, 0.005)
    starts = [5.0012, 600.0034]
    found = alignment.by_pulse(t1, steps(t1, [s * (1 + 40e-6) + 9 for s in starts]), t2,
                               steps(t2, starts))  # fmt: skip
    assert found.error.drift_measured
    assert abs(found.drift_ppm - 40) < found.error.drift_ppm < 10


def test_pulses_of_different_things_are_refused() -> None:
    t = np.arange(0, 60, 0.005)
    with pytest.raises(StudyError, match="do not fit together"):
        alignment.by_pulse(t, steps(t, [1.0, 2.0, 30.0]), t, steps(t, [1.0, 3.0, 40.0]))


def test_one_pulse_gives_an_offset() -> None:
    t = np.arange(0, 2, 0.005)
    found = alignment.by_pulse(t, ramps(t, [1.0]), t, ramps(t, [0.7]))
    assert found.offset_s == pytest.approx(0.3, abs=1e-6)
    assert found.drift_ppm == 0


def test_noise_on_an_edge_is_one_edge() -> None:
    t = np.arange(0, 2, 0.001)
    noisy = ramps(t, [0.5, 1.5]) + np.random.default_rng(1).normal(0, 0.2, t.size)
    assert alignment.rising_edges(t, noisy) == pytest.approx([0.51, 1.51], abs=0.003)


def test_known_differences_come_back() -> None:
    t1, t2 = np.arange(0, 1.2, 0.005), np.arange(0, 1.2, 0.001)
    lag = alignment.by_pulse(t1, ramps(t1, [0.2]), t2, ramps(t2, [0.2]))
    found = traces.compare(
        (t1, force(t1 - 0.004) + 15), (t2, force(t2)), lag, ours="a", reference="b"
    )
    assert found.peak_delay_s == pytest.approx(0.004, abs=0.0003)
    assert found.peak_difference == pytest.approx(15, abs=2)
    same = traces.compare((t1, force(t1) + 15), (t2, force(t2)), lag, ours="a", reference="b")
    assert same.rmse == pytest.approx(15, abs=0.01)
    assert same.bias == pytest.approx(15, abs=0.01)
    assert same.correlation == pytest.approx(1, abs=1e-6)


def test_what_cannot_be_aligned_gets_a_sentence() -> None:
    t = np.arange(0, 1, 0.005)
    with pytest.raises(StudyError, match="flat"):
        alignment.by_correlation(t, np.ones_like(t), t, force(t))
    with pytest.raises(StudyError, match="no synchronisation pulse was found in the second"):
        alignment.by_pulse(t, ramps(t, [0.5]), t, np.zeros_like(t))
    with pytest.raises(StudyError, match="1 pulse and the second 2"):
        alignment.by_pulse(t, ramps(t, [0.5]), t, ramps(t, [0.2, 0.6]))
    with pytest.raises(StudyError, match="do not increase"):
        alignment.by_correlation(t[::-1], force(t), t, force(t))
    with pytest.raises(StudyError, match="do not overlap"):
        traces.common((t, t), (t + 5, t))
