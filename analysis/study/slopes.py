"""The two orthogonal halves of the within-between model, each with honest intervals.

A pitch's deviation sums to zero within each pitcher, so the deviations and the pitchers' means
do not share information. With the REML variances as weights:

* between pitchers: weighted regression of the pitchers' means with weights
  ``1 / (var_u + var_e / n_i)``, scale from its own residuals, t with k - p degrees of freedom
  (Knapp & Hartung 2003, Statistics in Medicine 22:2693-2710);
* within a pitcher: CR2 standard error and Satterthwaite degrees of freedom
  (see ``cluster_robust``), right whether or not slopes differ between pitchers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import statsmodels.api as sm
from scipy import stats

from analysis.study import cluster_robust, mixed
from analysis.study.cluster_robust import Array, Contrast, Labels
from analysis.study.levels import means


@dataclass(frozen=True)
class Blocks:
    """The two halves of the design, already divided by the step.

    ``within`` (n, pw) deviations, ``between`` (k, pb) means without the constant; the name
    lists match the columns.
    """

    within: Array
    within_names: list[str]
    between: Array
    between_names: list[str]


def variances(y: Array, labels: Labels, blocks: Blocks) -> mixed.Variances:
    """REML variances of the mixed model with all columns of both blocks."""
    level = np.column_stack([np.ones(len(blocks.between)), blocks.between])
    return mixed.fit(y, np.column_stack([level[labels], blocks.within]), blocks.within, labels)


def within(
    y: Array, labels: Labels, blocks: Blocks, spread: mixed.Variances
) -> dict[str, Contrast]:
    """Slopes of ``y`` (n,) on the deviations; empty where there are too few pitches for them."""
    p = len(blocks.within_names)
    several = np.bincount(labels)[labels] > 1
    _, codes = np.unique(labels[several], return_inverse=True)
    if not p or codes.size == 0 or codes.max() < 1 or codes.size - codes.max() - 1 <= p:
        return {}
    weights = None
    if spread.random_slopes:
        ratios = (np.array(spread.sd_slopes) / spread.sd_residual) ** 2
        weights = cluster_robust.WorkingModel(blocks.within[several], ratios)
    deviation = (y - means(y, labels)[labels])[several]
    fit = cluster_robust.fit(deviation, blocks.within[several], codes.astype(np.int64), weights)
    return {name: fit.contrast(np.eye(p)[j]) for j, name in enumerate(blocks.within_names)}


def between(
    y_means: Array, counts: Labels, blocks: Blocks, spread: mixed.Variances
) -> dict[str, Contrast]:
    """Slopes of pitchers' mean outcomes (k,); empty where there are too few pitchers for them.

    ``counts`` (k,) is each pitcher's number of pitches.
    """
    k, p = blocks.between.shape
    if not p or k - p - 1 < 1:
        return {}
    noise = spread.sd_pitcher**2 + spread.sd_residual**2 / counts
    design = np.column_stack([np.ones(k), blocks.between])
    fit = sm.WLS(y_means, design, weights=noise.mean() / noise).fit()
    ends = fit.conf_int()
    return {
        name: Contrast(
            estimate=float(fit.params[j]),
            se=float(fit.bse[j]),
            low=float(ends[j, 0]),
            high=float(ends[j, 1]),
            df=float(fit.df_resid),
            p=float(fit.pvalues[j]),
        )
        for j, name in enumerate(blocks.between_names, start=1)
    }


def pooled(y: Array, x: Array, labels: Labels) -> Contrast:
    """Least-squares slope of ``y`` (n,) on ``x`` (n,) as if the pitches had no pitchers.

    Only its interval knows about them (CR2); the slope is a mixture of the other two.
    """
    fit = cluster_robust.fit(y, np.column_stack([np.ones_like(x), x]), labels)
    return fit.contrast(np.array([0.0, 1.0]))


def difference(outer: Contrast | None, inner: Contrast | None) -> Contrast | None:
    """Between minus within, two independent estimates (Welch-Satterthwaite degrees of freedom)."""
    if outer is None or inner is None:
        return None
    se = float(np.hypot(outer.se, inner.se))
    if se == 0:
        return None
    df = se**4 / (outer.se**4 / outer.df + inner.se**4 / inner.df)
    gap = outer.estimate - inner.estimate
    half = float(stats.t.ppf(0.975, df)) * se
    return Contrast(gap, se, gap - half, gap + half, df, float(2 * stats.t.sf(abs(gap) / se, df)))
