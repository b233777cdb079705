"""Simulated pitchers against published populations.

Kageyama et al. 2015, J Sports Sci Med 14:246-255, Tables 2 and 4 (30 college
pitchers; N/kg turned into % body weight). Wasserberger et al. 2022, open data
set, 403 pitches of 100 pitchers ("open data" below). Guido & Werner 2012,
J Strength Cond Res 26:1782-1785.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from simulators.profile import Style, draw_pitch, draw_profile
from simulators.truth import Truth, measure
from tests.simulators.simulated import delivery

_PITCHERS = 72
#: Key: (Kageyama 2015 mean, open data mean, open data SD of pitcher means), % body weight.
PEAKS = {
    "drive_forward_bw": (85.7, 90.4, 13.1),
    "drive_vertical_bw": (131.5, 144.4, 16.6),
    "drive_peak_bw": (151.9, 166.7, 19.4),
    "landing_braking_bw": (113.2, 119.3, 19.2),
    "landing_vertical_bw": (195.8, 204.9, 27.3),
    "landing_peak_bw": (226.4, 236.2, 29.8),
}


@cache
def _metrics(key: str) -> tuple[float, ...]:
    values = []
    for seed in range(_PITCHERS):
        value = _truth(seed).metrics[key]
        assert value is not None
        values.append(value)
    return tuple(values)


@cache
def _truth(seed: int) -> Truth:
    return measure(delivery(seed))


@pytest.mark.parametrize("key", PEAKS)
def test_peaks_lie_where_both_published_populations_lie(key: str) -> None:
    kageyama, open_data, spread = PEAKS[key]
    values = np.array(_metrics(key))
    error = spread / np.sqrt(_PITCHERS)
    assert (
        min(kageyama, open_data) - 3 * error < values.mean() < max(kageyama, open_data) + 3 * error
    )
    assert values.std(ddof=1) == pytest.approx(spread, rel=0.35)


def test_directions_at_the_peaks() -> None:
    # Open data: 59.5 +- 4.3 and 60.4 +- 4.1 degrees above the horizontal.
    assert np.mean(_metrics("drive_angle_deg")) == pytest.approx(59.5, abs=2.5)
    assert np.mean(_metrics("landing_angle_deg")) == pytest.approx(60.4, abs=2.5)


def test_sideways_forces() -> None:
    # Open data, signed maxima: drive 13.6 +- 6.6, lead 25.0 +- 10.3; Kageyama: drive 13.3.
    assert np.mean(_metrics("drive_side_bw")) == pytest.approx(13.5, abs=2.5)
    assert np.mean(_metrics("landing_side_bw")) == pytest.approx(25.0, abs=4.0)


def test_forward_speed() -> None:
    # Open data: greatest speed of the centre of mass 3.06 +- 0.25 m/s.
    speeds = np.array(_metrics("peak_forward_speed_mps"))
    whole_lift = np.array([s % 3 != 2 for s in range(_PITCHERS)])  # not the slide step
    assert speeds[whole_lift].mean() == pytest.approx(3.06, abs=0.12)
    assert speeds.std() == pytest.approx(0.27, abs=0.08)


def test_landing_peak_comes_about_45_ms_after_contact() -> None:
    assert np.mean(_metrics("landing_time_to_peak_s")) == pytest.approx(0.045, abs=0.006)


def test_strides() -> None:
    # Open data 83.6 +- 5.6 % of height, Kageyama 84.6 +- 4.2.
    strides = np.array(_metrics("stride_height"))
    assert strides.mean() == pytest.approx(0.84, abs=0.02)
    assert strides.std() == pytest.approx(0.055, abs=0.02)


def test_knee_lift_to_contact() -> None:
    # Kageyama 2015, Table 2: 0.9 +- 0.3 s from greatest knee height to contact.
    traits = [draw_profile(np.random.default_rng(s), "P").traits for s in range(300)]
    times = np.array([t["lift_to_contact"] for t in traits])
    assert times.mean() == pytest.approx(0.9, abs=0.05)
    assert 0.15 < times.std() < 0.35


def test_the_body_drops_before_it_pushes() -> None:
    # Kageyama 2015, Table 4: at the greatest knee height the vertical force is 69 % of weight.
    lows = []
    for seed in range(0, 24):
        d = delivery(seed, Style.STRETCH)
        t = np.arange(d.push, d.contact - 0.25, 5e-3)
        drive = next(c for c in d.contacts if c.start == pytest.approx(d.push, abs=1e-6))
        lows.append(drive.force(t)[:, 2].min() / d.profile.body.weight_n)
    assert np.mean(lows) == pytest.approx(0.69, abs=0.10)


def test_pitch_to_pitch_spread_is_the_published_typical_error() -> None:
    # Open data, within a session: drive 4.88 (x), 6.76 (z); lead 8.23 (x), 12.6 (z) % body weight.
    rng = np.random.default_rng(0)
    published = {
        "drive_forward": 0.0488,
        "drive_vertical": 0.0676,
        "landing_braking": 0.0823,
        "landing_vertical": 0.126,
    }
    variances: dict[str, list[float]] = {key: [] for key in published}
    together = []
    for seed in range(40):
        who = draw_profile(np.random.default_rng(seed), "P")
        traits = [draw_pitch(rng, who, Style.STRETCH, 0).traits for _ in range(30)]
        for key in published:
            variances[key].append(float(np.var([t[key] for t in traits], ddof=1)))
        resultant = [np.hypot(t["landing_braking"], t["landing_vertical"]) for t in traits]
        together.append(np.var(resultant, ddof=1))
    for key, typical in published.items():
        assert np.sqrt(np.mean(variances[key])) == pytest.approx(typical, rel=0.12), key
    # Lead resultant 14.7: what the correlation of its components was chosen for.
    assert np.sqrt(np.mean(together)) == pytest.approx(0.147, rel=0.12)


def test_ball_speed_goes_with_landing_between_pitchers_and_not_within() -> None:
    # Open data: r about .36 between 100 pitchers, about 0 from pitch to pitch.
    whos = [draw_profile(np.random.default_rng(s), "P") for s in range(1500)]
    landing = [np.hypot(w.traits["landing_braking"], w.traits["landing_vertical"]) for w in whos]
    r = np.corrcoef(landing, [w.ball_mph for w in whos])[0, 1]
    assert r == pytest.approx(0.36, abs=0.07)
    rng = np.random.default_rng(1)
    pitches = [draw_pitch(rng, whos[0], Style.STRETCH, 0) for _ in range(1500)]
    within = np.corrcoef(
        [p.traits["landing_vertical"] for p in pitches], [p.speed_mps for p in pitches]
    )[0, 1]
    assert abs(within) < 0.08


def test_a_tired_pitcher_pushes_less() -> None:
    rng = np.random.default_rng(2)
    who = next(
        w
        for w in (draw_profile(np.random.default_rng(s), "P") for s in range(50))
        if w.fatigue > 0.03
    )
    fresh = [draw_pitch(rng, who, Style.STRETCH, 0) for _ in range(200)]
    tired = [draw_pitch(rng, who, Style.STRETCH, 100) for _ in range(200)]
    ratio = np.mean([p.traits["drive_vertical"] for p in tired]) / np.mean(
        [p.traits["drive_vertical"] for p in fresh]
    )
    assert ratio == pytest.approx(1.0 - who.fatigue, abs=0.012)
    assert np.mean([p.speed_mps for p in tired]) < np.mean([p.speed_mps for p in fresh])
