"""Does a force metric go with an outcome, within one pitcher and between pitchers?

The within-between mixed model ``y_ij = a + B mean_i + (W + w_i) (x_ij - mean_i) + u_i + e_ij``
for pitch j of pitcher i, by REML. W answers "when this pitcher pushes harder than usual";
B answers "pitchers who push harder than others". Only W speaks to one pitcher.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.study import levels, mixed, slopes, true_means
from analysis.study.cluster_robust import Array, Contrast, Labels
from analysis.study.collinearity import inflations, refuse_collinear
from analysis.study.effect_result import EffectResult, PredictorEffect, Slope
from analysis.study.influence import leave_one_out
from analysis.study.multiplicity import holm
from analysis.study.results import StudyError
from analysis.study.table import Prepared

_NO_SCATTER = 1e-9  # standard error beside its slope


def estimate(
    prepared: Prepared,
    outcome: str,
    predictors: Sequence[str],
    pitcher: str,
    *,
    covariates: Sequence[str] = (),
    per: float = 10.0,
) -> EffectResult:
    """Fit the model to complete rows and give every predictor's slopes per ``per`` units.

    Covariates stay in their own units. Raises ``StudyError`` for one pitcher, one pitch each,
    a constant column, and columns that determine each other.
    """
    labels, names = prepared.codes(pitcher)
    y = prepared.numbers[outcome]
    _refuse_degenerate(prepared, outcome, predictors, labels=labels, names=names, per=per)
    columns = {name: prepared.numbers[name] / per for name in predictors}
    columns |= levels.covariate_columns(prepared, list(covariates))
    parts = levels.split(columns, labels)
    blocks = _blocks(parts)
    spread = slopes.variances(y, labels, blocks)
    inner = slopes.within(y, labels, blocks, spread)
    for name, found in inner.items():
        if found.se <= _NO_SCATTER * abs(found.estimate):
            raise StudyError(
                f"'{outcome}' follows '{name}' without any scatter within pitchers; is one "
                "computed from the other?"
            )
    outer = slopes.between(levels.means(y, labels), np.bincount(labels), blocks, spread)
    fitted = _Fitted(y, labels, parts, spread, inner, outer)
    effects = [
        _predictor(name, j, fitted, per=per, alone=len(columns) == 1)
        for j, name in enumerate(predictors)
    ]
    effects, n_tests = _adjust(effects)
    return EffectResult(
        n_pitches=len(y),
        n_pitchers=len(names),
        outcome=outcome,
        per=per,
        within=effects[0].within,
        between=effects[0].between,
        pooled=effects[0].pooled,
        predictors=effects,
        covariates=[name for name in columns if name not in predictors],
        variances=spread,
        inflation=inflations(
            blocks.within, blocks.within_names, blocks.between, blocks.between_names
        ),
        influence=leave_one_out(
            y, labels, names=names, blocks=blocks, spread=spread, predictors=list(predictors)
        ),
        n_tests=n_tests,
        separate=False,
        missing=prepared.missing,
    )


def estimate_separately(
    prepared: Prepared,
    outcome: str,
    predictors: Sequence[str],
    pitcher: str,
    *,
    covariates: Sequence[str] = (),
    per: float = 10.0,
) -> EffectResult:
    """Each predictor in a model of its own on the same rows; Holm over all slopes together.

    ``variances`` are those of the first predictor's model.
    """
    answers = [
        estimate(prepared, outcome, [name], pitcher, covariates=covariates, per=per)
        for name in predictors
    ]
    effects, n_tests = _adjust([answer.predictors[0] for answer in answers])
    first = answers[0]
    return replace(
        first,
        within=effects[0].within,
        between=effects[0].between,
        predictors=effects,
        variances=replace(
            first.variances,
            note=f"each predictor in a model of its own; the first: {first.variances.note}",
        ),
        inflation=[],
        influence=[row for answer in answers for row in answer.influence],
        n_tests=n_tests,
        separate=True,
    )


def _refuse_degenerate(
    prepared: Prepared,
    outcome: str,
    predictors: Sequence[str],
    *,
    labels: Labels,
    names: list[str],
    per: float,
) -> None:
    if not per > 0:
        raise StudyError(f"the step must be greater than zero, not {per:g}")
    if len(set(predictors)) < len(predictors):
        raise StudyError("a predictor is named twice")
    if outcome in predictors:
        raise StudyError(f"'{outcome}' is both the outcome and a predictor")
    levels.refuse_ungrouped(labels, names)
    for name in (outcome, *predictors):
        values = prepared.numbers[name]
        if np.ptp(values) <= 1e-12 * max(1.0, float(np.abs(values).max())):
            raise StudyError(f"'{name}' is {values[0]:g} in every row; it must vary to be studied")


def _blocks(parts: levels.Split) -> slopes.Blocks:
    inner = [j for j, varies in enumerate(parts.varies_within) if varies]
    outer = [j for j, varies in enumerate(parts.varies_between) if varies]
    for j, name in enumerate(parts.names):
        if j not in inner and j not in outer:
            raise StudyError(f"covariate '{name}' is the same in every row")
    blocks = slopes.Blocks(
        parts.within[:, inner],
        [parts.names[j] for j in inner],
        parts.between[:, outer],
        [parts.names[j] for j in outer],
    )
    refuse_collinear(blocks.within, blocks.within_names, "within pitchers")
    if len(blocks.between) > len(outer) + 1:
        ones = np.ones(len(blocks.between))
        refuse_collinear(
            np.column_stack([ones, blocks.between]),
            ["constant", *blocks.between_names],
            "between pitchers",
        )
    return blocks


@dataclass(frozen=True)
class _Fitted:
    """The data and both halves of the fitted model, for one predictor's slopes to be read from."""

    y: Array
    labels: Labels
    parts: levels.Split
    spread: mixed.Variances
    inner: dict[str, Contrast]
    outer: dict[str, Contrast]


def _predictor(name: str, j: int, fit: _Fitted, *, per: float, alone: bool) -> PredictorEffect:
    """All slopes of column ``j``; ``alone`` where the model has no other column."""
    parts, labels, x = fit.parts, fit.labels, fit.parts.total[:, j]
    within, between = fit.inner.get(name), fit.outer.get(name)
    known = true_means.mean_reliability(x, labels)
    corrected = None
    if alone and known is not None and within is not None and between is not None:
        corrected = true_means.between_true_mean(
            fit.y, x, labels, known=known, inner=within, spread=fit.spread
        )
    k = len(parts.between)
    return PredictorEffect(
        predictor=name,
        within=_slope(within, _why_not_within(name, parts.varies_within[j])),
        between=_slope(between, _why_not_between(name, parts.varies_between[j], k)),
        pooled=_slope(slopes.pooled(fit.y, x, labels), ""),
        difference=_slope(slopes.difference(between, within), "needs both slopes"),
        between_true_mean=_slope(
            corrected,
            "needs both slopes and pitchers who really differ"
            if alone
            else "only for one predictor without covariates",
        ),
        mean_reliability=float(np.mean(known.shares)) if known else None,
        sd_within=float(np.sqrt(np.sum(parts.within[:, j] ** 2) / max(len(x) - k, 1))) * per,
        sd_between=float(np.std(parts.between[:, j], ddof=1)) * per,
    )


def _why_not_within(name: str, varies: bool) -> str:
    if not varies:
        return f"'{name}' does not change from pitch to pitch within any pitcher"
    return "too few pitchers with several pitches for this many columns"


def _why_not_between(name: str, varies: bool, k: int) -> str:
    if not varies:
        return f"every pitcher has the same mean of '{name}'"
    return f"{k} pitchers are too few for this many columns"


def _slope(found: Contrast | None, why: str) -> Slope:
    if found is None:
        return Slope(None, None, None, None, why=why)
    return Slope(found.estimate, found.se, found.low, found.high, found.df, found.p)


def _adjust(effects: list[PredictorEffect]) -> tuple[list[PredictorEffect], int]:
    """Holm over all within and between slopes of the answer; also how many there were."""
    tested = [s.p for e in effects for s in (e.within, e.between) if s.p is not None]
    adjusted = iter(holm(tested))

    def with_holm(slope: Slope) -> Slope:
        return slope if slope.p is None else replace(slope, p_holm=next(adjusted))

    done = [replace(e, within=with_holm(e.within), between=with_holm(e.between)) for e in effects]
    return done, len(tested)
