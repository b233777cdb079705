"""Limits of agreement against the published examples."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pingouin
import pytest

from analysis.study import agreement, limits
from analysis.study.results import StudyError
from analysis.study.table import prepare

# Bland & Altman 1986, Lancet i:307-310, table: peak flow, first readings (from memory).
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]

# Bland & Altman 1999, Stat Methods Med Res 8:135-160, table 4: cardiac output by two methods,
# twelve subjects (from memory).
CARDIAC = {
    1: "7.83 6.57 7.42 5.62 7.89 6.90 7.12 6.57 7.88 6.35",
    2: "6.16 4.06 7.26 4.29 6.71 4.26 6.54 4.09",
    3: "4.75 4.71 5.24 5.50 4.86 5.08 4.78 5.02 6.05 6.01 5.42 5.67",
    4: "4.21 4.14 3.61 4.20 3.72 4.61 3.87 4.68 3.92 5.04",
    5: "3.13 3.03 2.98 2.86 2.85 2.77 3.17 2.46 3.09 2.32 3.12 2.43",
    6: "5.92 5.90 6.42 5.81 5.92 5.70 6.27 5.76",
    7: "7.13 5.09 6.62 4.63 6.58 4.61 6.93 5.09",
    8: "4.54 4.72 4.81 4.61 5.11 4.36 5.29 4.20 5.39 4.36 5.57 4.20",
    9: "4.48 3.17 4.92 3.12 3.97 2.96",
    10: "4.22 4.35 4.65 4.62 4.74 3.16 4.44 3.53 4.50 3.53",
    11: "6.78 7.20 6.07 6.09 6.52 7.00 6.42 7.10 6.41 7.40 5.76 6.80",
    12: "5.06 4.50 4.72 4.20 4.90 3.80 4.80 3.80 4.90 4.20 5.10 4.50",
}


def cardiac() -> pd.DataFrame:
    rows = []
    for who, text in CARDIAC.items():
        pairs = np.array(text.split(), dtype=np.float64).reshape(-1, 2)
        rows += [{"who": f"S{who}", "rv": a, "ic": b} for a, b in pairs]
    return pd.DataFrame(rows)


def test_bland_altman_1986() -> None:
    found = limits.single(np.array(LARGE, dtype=np.float64) - np.array(MINI))
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert [found.bias_low, found.bias_high] == pytest.approx([-22.0, 17.8], abs=0.06)
    # The paper takes 2 SD and rounds the limit's variance to 3 s^2 / n: 1 % narrower than here.
    assert found.bias - 2 * found.sd == pytest.approx(-79.7, abs=0.06)
    assert found.lower_limit == pytest.approx(-2.118 - 1.959964 * 38.765, abs=1e-2)
    paper = 2 * 16.285 * 2.1199
    assert found.lower_limit_high - found.lower_limit_low == pytest.approx(paper, rel=0.02)


def test_giavarina_2015() -> None:
    # Biochemia Medica 25:141-151; the data come with pingouin.
    data = pingouin.read_dataset("blandaltman")
    found = agreement.estimate(prepare(data, ["A", "B"]), "A", "B")
    assert found.design == "single"
    assert found.bias == pytest.approx(-27.17, abs=0.005)
    assert found.sd == pytest.approx(34.81, abs=0.005)
    assert found.lower_limit == pytest.approx(-95.39, abs=0.005)
    assert found.upper_limit == pytest.approx(41.05, abs=0.005)
    assert found.limits.bias_low == pytest.approx(-40.1634, abs=1e-3)
    assert found.limits.bias_high == pytest.approx(-14.1699, abs=1e-3)


def _exact(means: np.ndarray, variance: float, rng: np.random.Generator) -> np.ndarray:
    """Three readings for each subject with these means and exactly this within variance."""
    noise = rng.normal(size=(len(means), 3))
    noise -= noise.mean(axis=1, keepdims=True)
    noise *= np.sqrt(variance / noise.var(axis=1, ddof=1).mean())
    return np.asarray(means[:, None] + noise)


def test_bland_altman_1999_constant_truth() -> None:
    # Section 5.1, blood pressure, 85 subjects, three readings by J and S. The paper's summary
    # values (mean difference, variance of differences of means, both within variances) are given
    # to invented readings that have exactly these; its corrected SD and limits must come out.
    rng = np.random.default_rng(1)
    level, gap = rng.normal(130, 30, 85), rng.normal(size=85)
    gap = -15.6196 + (gap - gap.mean()) * np.sqrt(358.493) / gap.std(ddof=1)
    j, s = _exact(level + gap, 37.408, rng), _exact(level, 83.141, rng)
    found = limits.constant(j.ravel(), s.ravel(), np.repeat(np.arange(85), 3))
    assert found.sd == pytest.approx(20.95, abs=0.005)
    assert [found.lower_limit, found.upper_limit] == pytest.approx([-56.68, 25.44], abs=0.01)


def test_bland_altman_2007_varying_truth() -> None:
    # J Biopharm Stat 17:571-582 on the cardiac data: mean 0.60, SD 0.99.
    data = prepare(cardiac(), ["rv", "ic"], ["who"])
    found = agreement.estimate(data, "rv", "ic", "who")
    assert found.design == "varying"
    assert found.bias == pytest.approx(0.60, abs=0.005)
    assert found.sd == pytest.approx(0.99, abs=0.005)
    assert [found.lower_limit, found.upper_limit] == pytest.approx([-1.339, 2.544], abs=0.001)
    assert found.limits.sd_between == pytest.approx(np.sqrt(0.8106), abs=1e-4)


def test_cardiac_with_constant_truth() -> None:
    data = prepare(cardiac(), ["rv", "ic"], ["who"])
    found = agreement.estimate(data, "rv", "ic", "who", truth="constant")
    # Variance by the paper's formula on its data: 0.9127 + (1 - .20972) (.10723 + .13787).
    assert found.sd == pytest.approx(1.0519, abs=1e-4)
    assert [found.lower_limit, found.upper_limit] == pytest.approx([-1.352, 2.771], abs=0.001)


def test_intervals_of_repeated_limits_hold_the_truth() -> None:
    rng = np.random.default_rng(11)  # invented truth: bias 1, SDs 2 between and 3 within
    upper = 1 + limits.Z * np.sqrt(4 + 9)
    held = pairs_held = 0
    for _ in range(400):
        labels = np.repeat(np.arange(15), rng.integers(2, 9, 15))
        gap = 1 + rng.normal(0, 2, 15)[labels] + rng.normal(0, 3, len(labels))
        found = limits.varying(gap, labels)
        held += found.upper_limit_low <= upper <= found.upper_limit_high
        naive = limits.single(gap)
        pairs_held += naive.bias_low <= 1 <= naive.bias_high
    assert 0.92 <= held / 400 <= 0.98
    assert pairs_held / 400 < 0.9  # pairs taken as independent: the mistake this avoids


def test_proportional_bias_is_found_and_absent() -> None:
    rng = np.random.default_rng(2)  # invented
    truth = rng.uniform(100, 200, 200)
    fair = pd.DataFrame({"a": truth + rng.normal(0, 1, 200), "b": truth + rng.normal(0, 1, 200)})
    steep = fair.assign(a=1.05 * truth + rng.normal(0, 1, 200))
    for frame, expected in ((fair, 0.0), (steep, 2 * (1.05 - 1) / (1.05 + 1))):
        trend = agreement.estimate(prepare(frame, ["a", "b"]), "a", "b").proportional
        assert trend is not None
        assert trend.low <= expected <= trend.high
        assert (trend.low * trend.high > 0) == (expected > 0)


def test_one_pitcher_and_too_few_pairs_get_a_sentence() -> None:
    frame = pd.DataFrame({"who": ["A"] * 4, "a": [1.0, 2, 3, 4], "b": [1.0, 2, 3, 5]})
    with pytest.raises(StudyError, match="one pitcher"):
        agreement.estimate(prepare(frame, ["a", "b"], ["who"]), "a", "b", "who")
    with pytest.raises(StudyError, match="too few"):
        agreement.estimate(prepare(frame[:2], ["a", "b"]), "a", "b")
