"""Where hum shows, held to the sampling theorem and to the samples themselves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.checks.mains import alias, hum, lines, without_mains


@pytest.mark.parametrize(
    ("tone", "rate", "shows"),
    [
        # |f - fs round(f / fs)|, worked by hand.
        (50.0, 200.0, 50.0),
        (150.0, 200.0, 50.0),
        (180.0, 200.0, 20.0),
        (240.0, 200.0, 40.0),
        (300.0, 200.0, 100.0),
        (60.0, 100.0, 40.0),
        (120.0, 188.0, 68.0),
    ],
)
def test_alias_by_hand(tone: float, rate: float, shows: float) -> None:
    assert alias(tone, rate) == pytest.approx(shows)


@given(st.floats(1.0, 900.0), st.floats(50.0, 1000.0), st.floats(0.0, 6.0))
def test_a_tone_and_its_alias_have_the_same_samples(tone: float, rate: float, phase: float) -> None:
    # The defining property: cos at f and at its alias (phase turned where the image is mirrored)
    # agree at every sampling instant.
    t = np.arange(64) / rate
    mirrored = tone < rate * round(tone / rate)
    turned = -phase if mirrored else phase
    there = np.cos(2 * np.pi * alias(tone, rate) * t + turned)
    np.testing.assert_allclose(np.cos(2 * np.pi * tone * t + phase), there, atol=1e-6)


@pytest.mark.parametrize("tone", [49.7, 50.0, 50.2, 59.9, 60.1, 119.8, 150.3, 180.0, 240.2])
def test_amplitude_is_right_and_noise_is_told_apart(tone: float) -> None:
    rng = np.random.default_rng(4)
    t = np.arange(1000) / 200.0
    readings = rng.normal(0.0, 2.0, (1000, 2))
    readings[:, 0] += 6.0 * np.sin(2 * np.pi * tone * t + 1.0)
    found = hum(readings, 200.0)
    best = max(found, key=lambda h: h.amplitude[0] * h.certain[0])
    assert best.certain[0]
    assert best.amplitude[0] == pytest.approx(6.0, abs=0.5)
    assert best.line.shows_hz == pytest.approx(alias(tone, 200.0), abs=3.1)
    assert not any(h.certain[1] for h in found)
    assert without_mains(readings, 200.0).std(axis=0) == pytest.approx([2.0, 2.0], rel=0.08)


def test_a_fan_beside_the_mains_is_no_hum() -> None:
    t = np.arange(1000) / 200.0
    readings = np.random.default_rng(1).normal(0.0, 1.0, (1000, 1))
    readings[:, 0] += 8.0 * np.sin(2 * np.pi * 31.0 * t)
    assert not any(h.certain[0] for h in hum(readings, 200.0))


def test_lines_begin_with_the_fundamentals_and_leave_out_slow_drift() -> None:
    found = lines(200.0)
    assert [(x.mains_hz, x.shows_hz) for x in found[:2]] == [(50.0, 50.0), (60.0, 60.0)]
    assert all(x.shows_hz >= 1.0 for x in found)
    assert not any(x.mains_hz == 50.0 and x.harmonic == 4 for x in found)  # 200 Hz folds to 0
