"""The intervals themselves: CR2 properties, coverage in invented studies, and planning."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.study import cluster_robust, levels, planning, slopes
from analysis.study.results import StudyError

WITHIN, BETWEEN = 0.2, 1.0


def invented_study(
    rng: np.random.Generator, pitchers: int, sd_slope: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Invented pitches, 2 to 10 a pitcher: labels, predictor, outcome."""
    labels = np.repeat(np.arange(pitchers), rng.integers(2, 11, pitchers))
    x = rng.normal(0, 3, pitchers)[labels] + rng.normal(0, 1.5, len(labels))
    mean = levels.means(x, labels)[labels]
    slope = rng.normal(WITHIN, sd_slope, pitchers)[labels]
    level = rng.normal(0, 2, pitchers)[labels]
    y = BETWEEN * mean + slope * (x - mean) + level + rng.normal(0, 1, len(labels))
    return labels, x, y


@pytest.mark.parametrize(
    ("pitchers", "sd_slope", "studies"), [(8, 0.0, 200), (8, 1.0, 200), (50, 0.3, 60)]
)
def test_coverage(pitchers: int, sd_slope: float, studies: int) -> None:
    rng = np.random.default_rng([2024, pitchers, int(10 * sd_slope)])
    held = np.zeros(2)
    careless = np.zeros(2)
    for _ in range(studies):
        labels, x, y = invented_study(rng, pitchers, sd_slope)
        parts = levels.split({"x": x}, labels)
        blocks = slopes.Blocks(parts.within, ["x"], parts.between, ["x"])
        spread = slopes.variances(y, labels, blocks)
        inner = slopes.within(y, labels, blocks, spread)["x"]
        counts = np.bincount(labels)
        outer = slopes.between(levels.means(y, labels), counts, blocks, spread)["x"]
        held += [inner.low <= WITHIN <= inner.high, outer.low <= BETWEEN <= outer.high]
        line = stats.linregress(x, y)
        careless += [abs(line.slope - t) <= 1.96 * line.stderr for t in (WITHIN, BETWEEN)]
    # 95 % within three standard errors of so many studies.
    room = 3 * np.sqrt(0.95 * 0.05 / studies)
    assert np.all(np.abs(held / studies - 0.95) <= room)
    assert careless.min() / studies < 0.95 - room  # one pooled line fails the same test


def test_balanced_design_is_the_t_test_of_pitchers_slopes() -> None:
    # With equal designs the mean slope is the plain mean of the pitchers' slopes, and its
    # interval the one-sample t interval with k - 1 degrees of freedom (any textbook).
    rng = np.random.default_rng(1)
    k, x = 7, np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    y = rng.normal(1, 1, (k, 1)) * x + rng.normal(0, 1, (k, 5))
    y -= y.mean(axis=1, keepdims=True)
    design = np.tile(x, k)[:, None]
    labels = np.repeat(np.arange(k), 5)
    own = y @ x / (x @ x)
    for ratio in (0.0, 0.7):
        model = cluster_robust.WorkingModel(design, np.array([ratio]))
        found = cluster_robust.fit(y.ravel(), design, labels, model).contrast(np.ones(1))
        assert found.estimate == pytest.approx(own.mean())
        assert found.se == pytest.approx(own.std(ddof=1) / np.sqrt(k))
        assert found.df == pytest.approx(k - 1)
        assert found.p == pytest.approx(stats.ttest_1samp(own, 0).pvalue)


def test_variance_is_unbiased_under_the_working_model() -> None:
    # The defining property (Bell & McCaffrey 2002): with independent equal residuals the
    # expected CR2 variance is the least-squares variance, here (X'X)^-1, for any design.
    rng = np.random.default_rng(2)
    labels = np.repeat(np.arange(6), [2, 3, 9, 4, 2, 7])
    design = np.column_stack([np.ones(27), rng.normal(size=27), rng.normal(size=6)[labels]])
    found = cluster_robust.fit(rng.normal(size=27), design, labels)
    expected = np.zeros((3, 3))
    for a, x in zip(found.adjusted, found.designs, strict=True):
        left = np.eye(len(x)) - x @ found.bread @ x.T
        expected += a.T @ left @ a
    assert found.bread @ expected @ found.bread == pytest.approx(found.bread, abs=1e-12)


def test_weights_whiten_the_covariance() -> None:
    rng = np.random.default_rng(3)
    labels = np.repeat(np.arange(3), [4, 5, 6])
    z = np.column_stack([np.ones(15), rng.normal(size=15)])
    model = cluster_robust.WorkingModel(z, np.array([2.0, 0.5]))
    root = cluster_robust.whiten(np.eye(15), cluster_robust.clusters(labels), model)
    same = labels[:, None] == labels
    covariance = np.eye(15) + np.where(same, (z * model.ratios) @ z.T, 0)
    assert root @ covariance @ root.T == pytest.approx(np.eye(15), abs=1e-12)


def test_planning_shortcut_equals_the_full_calculation() -> None:
    rng = np.random.default_rng(4)
    k, n, ratio = 5, 6, 0.4
    x, y = rng.normal(size=(k, n)), rng.normal(size=(k, n))
    x -= x.mean(axis=1, keepdims=True)
    y -= y.mean(axis=1, keepdims=True)
    design, labels = x.reshape(-1, 1), np.repeat(np.arange(k), n)
    model = cluster_robust.WorkingModel(design, np.array([ratio]))
    full = cluster_robust.fit(y.ravel(), design, labels, model).contrast(np.ones(1))
    squares = (x**2).sum(axis=1)
    estimate, half = planning.single_slope(
        squares[None], ((x * y).sum(axis=1) / squares)[None], ratio
    )
    assert estimate[0] == pytest.approx(full.estimate)
    assert half[0] == pytest.approx((full.high - full.low) / 2)


def test_plan_matches_the_closed_form_for_many_pitches() -> None:
    # With very many pitches a pitcher's slope is exact, so the half width is that of a mean of
    # k slopes: t(k - 1) sd / sqrt(k), sd spread as sqrt(chi2 / df) (textbook).
    assumed = planning.Assumptions(0.5, 1.0, 0.01, 10.0, per=10)
    found = planning.estimate(assumed, 1.0, [10], [200], studies=3000)
    sds = np.sqrt(stats.chi2.ppf([0.5, 0.8], 9) / 9)
    expected = stats.t.ppf(0.975, 9) * sds / np.sqrt(10)
    size = found.sizes[0]
    assert [size.half_width_median, size.half_width_80] == pytest.approx(list(expected), rel=0.03)
    assert size.covers == pytest.approx(0.95, abs=0.015)


def test_plan_picks_the_smallest_size_and_states_its_assumptions() -> None:
    assumed = planning.Assumptions(0.1, 0.05, 0.3, 7.4, per=10)
    found = planning.estimate(assumed, 0.1, [8, 20, 50], [5, 10], studies=500)
    good = [s for s in found.sizes if s.reaches >= 0.8]
    assert found.smallest is not None
    assert found.smallest.pitchers * found.smallest.pitches == min(
        s.pitchers * s.pitches for s in good
    )
    assert any("SD 0.05" in line for line in found.stated)
    assert found == planning.estimate(assumed, 0.1, [50, 20, 8], [10, 5], studies=500)


def test_plan_says_when_nothing_tried_is_enough() -> None:
    assumed = planning.Assumptions(0.1, 0.5, 0.3, 7.4)
    assert planning.estimate(assumed, 0.01, [4], [3], studies=50).smallest is None


@pytest.mark.parametrize(
    ("assumed", "wanted", "sizes", "sentence"),
    [
        (planning.Assumptions(0.1, -1.0, 0.3, 7.4), 0.1, [8], "negative"),
        (planning.Assumptions(0.1, 0.1, 0.0, 7.4), 0.1, [8], "outcome must be greater"),
        (planning.Assumptions(0.1, 0.1, 0.3, 7.4), 0.0, [8], "half width must be greater"),
        (planning.Assumptions(0.1, 0.1, 0.3, 7.4), 0.1, [1], "at least two pitchers"),
    ],
)
def test_impossible_plans_get_a_sentence(
    assumed: planning.Assumptions, wanted: float, sizes: list[int], sentence: str
) -> None:
    with pytest.raises(StudyError, match=sentence):
        planning.estimate(assumed, wanted, sizes, [5])
