"""A pitch against the pitcher's own session: robust, honest about too few."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, norm

from analysis.baseline import (
    APART,
    COMPARE_FROM,
    MAD_TO_SD,
    OWN_SPREAD_FROM,
    PUBLISHED_TYPICAL_ERROR,
    WATCHED,
    Standing,
    baseline,
    compare,
    compare_pitch,
    overall,
)
from analysis.running import in_order, pitch_rows
from stream.metrics import metric
from tests.screens.invented import not_counted, record, session

values = st.lists(st.floats(100.0, 300.0), min_size=OWN_SPREAD_FROM, max_size=60)


def test_the_factor_from_median_absolute_deviation_to_standard_deviation() -> None:
    # 1 / Phi^-1(3/4): the standard normal's upper quartile, from SciPy.
    assert pytest.approx(1.0 / norm.ppf(0.75), abs=5e-5) == MAD_TO_SD


@given(values)
def test_centre_and_spread_are_those_of_numpy_and_scipy(earlier: list[float]) -> None:
    own = baseline("stride_m", earlier)
    assert own is not None
    assert own.own
    assert own.centre == pytest.approx(np.median(earlier))
    expected = median_abs_deviation(earlier, scale="normal")
    assert (own.spread or 0.0) == pytest.approx(expected, rel=1e-4)


def test_one_wild_throw_moves_nothing() -> None:
    calm = [160.0 + 0.5 * i for i in range(20)]
    before, after = baseline("drive_peak_bw", calm), baseline("drive_peak_bw", [*calm, 900.0])
    assert before is not None
    assert after is not None
    assert after.centre == pytest.approx(before.centre, abs=0.5)
    assert (after.spread or 0.0) == pytest.approx(before.spread or 0.0, abs=0.8)


def test_too_few_says_so() -> None:
    few = [165.0] * (COMPARE_FROM - 1)
    assert compare("drive_peak_bw", 300.0, few).standing is Standing.TOO_FEW
    assert compare("drive_peak_bw", 300.0, [*few, 165.0]).standing is Standing.APART


def test_missing_values_are_no_pitches_and_no_zeros() -> None:
    holes: list[float | None] = [None] * 30
    assert baseline("drive_peak_bw", holes) is None
    assert compare("drive_peak_bw", None, [165.0] * 9).standing is Standing.NOT_MEASURED


def test_published_typical_error_until_there_are_enough_of_his_own() -> None:
    earlier = [160.0, 165.0, 170.0] * 4
    early = baseline("drive_peak_bw", earlier)
    assert early is not None
    assert (early.spread, early.own) == (PUBLISHED_TYPICAL_ERROR["drive_peak_bw"], False)
    late = baseline("drive_peak_bw", earlier + earlier)
    assert late is not None
    assert late.own


def test_published_typical_errors_as_printed() -> None:
    # Wasserberger, Brady, Besky, Jones and Boddy 2022 (open data set), typical error of one
    # pitch within a session: resultants 7.4 and 14.7 % body weight, ball speed 0.6 mph.
    assert PUBLISHED_TYPICAL_ERROR["drive_peak_bw"] == pytest.approx(7.4, abs=0.05)
    assert PUBLISHED_TYPICAL_ERROR["landing_peak_bw"] == pytest.approx(14.7, abs=0.05)
    assert PUBLISHED_TYPICAL_ERROR["speed_mps"] / 0.44704 == pytest.approx(0.6, abs=0.05)


def test_a_metric_without_a_published_error_waits_for_his_own_spread() -> None:
    assert compare("stride_m", 1.9, [1.5, 1.6] * 5).standing is Standing.TOO_FEW
    assert compare("stride_m", 1.9, [1.5, 1.52, 1.6] * 6).standing is Standing.APART


def test_the_distance_allows_for_how_well_the_median_is_known() -> None:
    few = compare("drive_peak_bw", 180.0, [165.0] * 5)
    assert few.distance == pytest.approx(15.0 / 7.36 / math.sqrt(1.0 + math.pi / 10.0))


def test_normal_throws_are_seldom_called_apart() -> None:
    # Invented normal throws: beyond 3.5 spreads lies 0.05 % of a normal distribution.
    noise = np.random.default_rng(11).normal(166.0, 7.36, size=4000)
    apart = sum(
        compare("drive_peak_bw", float(v), noise[:12].tolist()).standing is Standing.APART
        for v in noise[12:]
    )
    assert apart / len(noise) < 0.02
    assert norm.sf(APART) * 2 == pytest.approx(4.65e-4, rel=0.01)


def test_void_pitches_and_other_pitchers_are_left_out() -> None:
    ours = [record(i) for i in range(1, 6)]
    wild = [record(6, push=400.0, flags=("void",)), record(7, push=400.0, pitcher="P99")]
    rows = pitch_rows([*ours, *wild, record(8)])
    push = rows[-1].comparison("drive_peak_bw")
    assert push is not None
    assert push.baseline is not None
    assert (push.baseline.count, push.baseline.centre) == (5, 166.0)
    assert rows[6].standing is Standing.TOO_FEW


def test_a_pitch_is_compared_with_those_before_it_only() -> None:
    records = [p.record for p in session(12)]
    assert pitch_rows(records)[:8] == pitch_rows(records[:8])


def test_known_rows_are_used_again_only_while_the_records_are_the_same() -> None:
    records = [p.record for p in session(12)]
    rows = pitch_rows(records)
    assert all(a is b for a, b in zip(rows, pitch_rows(records, rows), strict=True))
    voided = [*records[:3], record(4, flags=("void",)), *records[4:]]
    again = pitch_rows(voided, rows)
    assert again == pitch_rows(voided)
    assert again[2] is rows[2]


def test_movements_not_counted_stand_where_they_happened() -> None:
    pitches = pitch_rows([p.record for p in session(3)])
    rows = in_order(pitches, [not_counted(0).record, not_counted(2).record])
    assert [type(r).__name__[0] for r in rows] == ["N", "P", "P", "N", "P"]


def test_every_watched_metric_is_in_the_registry() -> None:
    for key in WATCHED:
        if key != "speed_mps":
            assert metric(key).key == key


def test_the_most_unusual_metric_decides() -> None:
    earlier = [record(i) for i in range(1, 10)]
    assert overall(compare_pitch(record(10), earlier)) is Standing.USUAL
    assert overall(compare_pitch(record(10, land=300.0), earlier)) is Standing.APART
    assert overall([]) is Standing.NOT_MEASURED


def test_of_pitches_as_usual_about_one_in_twenty_stands_out() -> None:
    """Invented normal values with the published spread; the limit is set for six metrics."""
    random = np.random.default_rng(7)
    keys = sorted(PUBLISHED_TYPICAL_ERROR)
    spreads = np.array([PUBLISHED_TYPICAL_ERROR[key] for key in keys])
    stand_out = 0
    for _ in range(2000):
        earlier = random.normal(0.0, spreads, (10, len(keys)))
        value = random.normal(0.0, spreads)
        standing = overall(compare(k, value[i], earlier[:, i]) for i, k in enumerate(keys))
        stand_out += standing is not Standing.USUAL
    # Five of the six have a published spread: 1 - 0.95^(5/6) = 4.2 %; binomial error 0.45 %.
    assert 0.028 < stand_out / 2000 < 0.056
