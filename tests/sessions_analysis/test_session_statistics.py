"""Trend, typical error, comparison of medians: against published examples, and by simulation."""

from __future__ import annotations

import math
from importlib import resources

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.baseline import COMPARE_FROM, baseline_across
from analysis.sessions.comparison import cell, difference, median_se, side_by_side
from analysis.sessions.error import between_sessions, typical_error
from analysis.sessions.series import quantity, series
from analysis.sessions.trend import trend
from stream.outputs import PitchRecord
from tests.session.test_session_folder import pitch


def nist(name: str) -> np.ndarray:
    """The rows of a NIST StRD data file as scipy's wheel carries it."""
    text = resources.files("scipy.stats.tests").joinpath("data", name).read_text()
    lines = text.rpartition("Data:")[2].splitlines()[1:]
    return np.array([[float(n) for n in line.split()] for line in lines if line.strip()])


def test_trend_gives_the_certified_line_of_nist_norris() -> None:
    # NIST StRD, linear regression, Norris: certified values.
    y, x = nist("nist_linregress/Norris.dat").T
    line = trend(x, y)
    assert line is not None
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert line.start == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.se == pytest.approx(0.000429796848199937, rel=1e-9)
    assert line.residual == pytest.approx(0.884796396144373, rel=1e-9)
    # t(34, 0.975) = 2.032 (tables of Student's t).
    assert line.high - line.slope == pytest.approx(2.0322 * line.se, rel=1e-4)
    assert line.stands_out


def test_trend_interval_holds_the_truth_19_times_in_20() -> None:
    random = np.random.default_rng(4)  # invented data
    held = 0
    for _ in range(2000):
        order = np.sort(random.choice(np.arange(1.0, 40.0), 12, replace=False))
        line = trend(order, 0.3 * order + random.normal(0.0, 7.0, 12))
        assert line is not None
        held += line.low <= 0.3 <= line.high
    assert 0.935 < held / 2000 < 0.965


def test_too_few_pitches_give_no_trend_and_no_error() -> None:
    nine = np.arange(9.0)
    assert trend(nine, nine) is None
    assert typical_error([np.arange(5.0), np.arange(6.0)]) is None
    assert typical_error([np.arange(6.0), np.arange(6.0), np.arange(1.0)]) is not None


def test_typical_error_is_the_certified_residual_of_nist_sirstv() -> None:
    # NIST StRD, one-way analysis of variance, SiRstv: certified residual SD.
    rows = nist("nist_anova/SiRstv.dat")
    groups = [rows[rows[:, 0] == g, 1] for g in np.unique(rows[:, 0])]
    error = typical_error(groups)
    assert error is not None
    assert error.sd == pytest.approx(0.104076068334656, rel=1e-9)
    assert (error.groups, error.count, error.df) == (5, 25, 20)


def test_within_subject_sd_of_the_peak_flow_example() -> None:
    # Bland & Altman 1986, Lancet i:307, large meter; within-subject SD 15.3 l/min
    # (Bland & Altman 1996, BMJ 313:744, gives such an SD and 1.96 sqrt(2) times it as
    # repeatability). Readings and results from memory.
    first = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    second = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]
    error = typical_error([np.array(pair, float) for pair in zip(first, second, strict=True)])
    assert error is not None
    assert error.sd == pytest.approx(15.3067, abs=5e-5)
    assert error.detectable() == pytest.approx(2.77 * 15.3, abs=0.1)
    assert error.detectable(5) == pytest.approx(error.detectable() / math.sqrt(5.0))


def test_smallest_detectable_change_of_weir() -> None:
    # Weir 2005, JSCR 19:231, data set A: SEM 7.6 gives MDC 21.07; from memory.
    error = typical_error([np.array([0.0, 7.6 * math.sqrt(2.0)])] * 12)
    assert error is not None
    assert error.detectable() == pytest.approx(21.07, abs=0.005)


def test_median_interval_of_the_published_example() -> None:
    # Example of the R package statpsych, ci.median2 (method of Price & Bonett); from memory.
    first = np.array([36, 44, 47, 42, 49, 39, 46, 31, 33, 48], float)
    other = np.array([32, 39, 26, 35, 43, 27, 40, 37, 34, 29], float)
    found = difference(first, other)
    assert found is not None
    assert found.estimate == -8.5
    assert math.hypot(median_se(first), median_se(other)) == pytest.approx(4.316291, abs=5e-7)
    assert found.low == pytest.approx(-16.95977, abs=5e-6)
    assert found.high == pytest.approx(-0.04022524, abs=5e-6)
    assert difference(first[:4], other) is None


def test_the_interval_of_medians_holds_at_small_numbers() -> None:
    random = np.random.default_rng(5)  # invented data
    held = 0
    for _ in range(1500):
        found = difference(random.normal(0.0, 7.0, 8), random.normal(3.0, 7.0, 10))
        assert found is not None
        held += found.low <= 3.0 <= found.high
    assert 0.93 < held / 1500 < 0.985


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=30))
def test_a_cell_summarises_what_is_there(values: list[float]) -> None:
    made = cell(np.array(values))
    assert made.count == len(values)
    assert made.median is not None
    assert made.least is not None
    assert made.greatest is not None
    assert made.least <= made.median <= made.greatest
    assert (made.spread is None) == (len(values) < COMPARE_FROM)


def record(
    number: int, value: float | None, pitcher: str = "P01", void: bool = False
) -> PitchRecord:
    made = pitch(number)
    return PitchRecord(
        **{
            **{f: getattr(made, f) for f in made.__struct_fields__},
            "pitcher": pitcher,
            "metrics": {"drive_peak_bw": value},
            "flags": ("void",) if void else (),
        }
    )


def test_voided_and_unmeasured_pitches_count_as_thrown() -> None:
    own = [record(3, 1.0), record(4, 2.0, void=True), record(6, None), record(7, 4.0)]
    made = series("P01", own, quantity("drive_peak_bw"))
    assert made.order.tolist() == [1.0, 4.0]
    assert made.numbers.tolist() == [3.0, 7.0]
    assert made.values.tolist() == [1.0, 4.0]


def test_sessions_side_by_side() -> None:
    first = [record(n, 150.0 + n) for n in range(6)] + [record(9, 1.0, "P02")]
    other = [record(n, 160.0 + n) for n in range(6)]
    one, two = side_by_side([first, other], [quantity("drive_peak_bw"), quantity("stride_m")])
    assert (one.pitcher, two.pitcher) == ("P01", "P02")
    (found,) = one.differences
    assert found is not None
    assert found.estimate == 10.0
    assert two.cells[1].median is None
    assert two.differences == (None,)


def test_earlier_sessions_need_three_for_a_spread() -> None:
    day = [140.0, 150.0, 160.0, 155.0, 145.0, None]
    two = baseline_across("drive_peak_bw", [day, day, [1.0] * 4])
    assert two is not None
    assert (two.centre, two.count, two.spread) == (150.0, 10, None)
    three = baseline_across("drive_peak_bw", [day, [v and v + 20 for v in day], day])
    assert three is not None
    assert three.centre == 150.0
    assert three.spread == pytest.approx(1.4826 * 10.0)
    still = baseline_across("drive_peak_bw", [[150.0] * 5] * 3)
    assert still is not None
    assert still.spread == 7.36  # Wasserberger et al. 2022, within one session; days add to it
    assert baseline_across("drive_peak_bw", [[1.0] * 4]) is None


def test_error_between_sessions_rests_on_sessions_medians() -> None:
    days = [[np.array([1.0, 2.0, 9.0]), np.array([4.0]), np.array([])] for _ in range(11)]
    error = between_sessions(days)
    assert error is not None
    assert error.df == 11
    assert error.sd == pytest.approx(math.sqrt(2.0))
    assert between_sessions(days[:9]) is None
