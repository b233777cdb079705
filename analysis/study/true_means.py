"""The between-pitcher slope for a pitcher's true mean, not the mean of a few pitches.

A mean of few pitches carries pitch-to-pitch noise, which pulls the between-pitcher slope
towards the within-pitcher slope. Replacing each observed mean by its best linear prediction
(regression calibration) undoes that: Carroll, Ruppert, Stefanski & Crainiceanu 2006,
Measurement Error in Nonlinear Models, 2nd ed., chapter 4; for the within-between model see
Grilli & Rampichini 2011, Methodology 7:121-133.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study import mixed, slopes
from analysis.study.cluster_robust import Array, Contrast, Labels
from analysis.study.levels import means


@dataclass(frozen=True)
class MeanReliability:
    """How well each pitcher's mean is known: ``shares`` (k,) of its variance that are real.

    ``centre`` is the estimated mean of all pitchers.
    """

    shares: Array
    centre: float


def mean_reliability(x: Array, labels: Labels) -> MeanReliability | None:
    """One-way random-effects analysis of ``x`` (n,); ``None`` where no real spread is left."""
    n_i = np.bincount(labels)
    n, k = len(x), len(n_i)
    group = means(x, labels)
    if n == k or k < 2:
        return None
    within = float(np.sum((x - group[labels]) ** 2)) / (n - k)
    n0 = (n - np.sum(n_i**2) / n) / (k - 1)
    real = (float(np.sum(n_i * (group - x.mean()) ** 2)) / (k - 1) - within) / n0
    if real <= 0:
        return None
    noise = real + within / n_i
    return MeanReliability(real / noise, float(np.sum(group / noise) / np.sum(1 / noise)))


def between_true_mean(
    y: Array,
    x: Array,
    labels: Labels,
    *,
    known: MeanReliability,
    inner: Contrast,
    spread: mixed.Variances,
) -> Contrast | None:
    """Between slope of one predictor on true means; ``inner`` is its within-pitcher slope.

    The part of each mean that is noise acts with the within-pitcher slope and is taken out
    first. The uncertainty of that slope and of the reliability, ``1 - 1 / F`` of the analysis
    of variance with ``var(log F) = 2 / df1 + 2 / df2``, is added to the variance.
    """
    group = means(x, labels)
    calibrated = known.centre + known.shares * (group - known.centre)
    noise = group - calibrated
    counts = np.bincount(labels)
    block = slopes.Blocks(np.empty((len(y), 0)), [], calibrated[:, None], ["x"])
    outer = slopes.between(means(y, labels) - inner.estimate * noise, counts, block, spread)
    leak = slopes.between(noise, counts, block, spread)
    if not outer:
        return None
    found = outer["x"]
    share = float(np.mean(known.shares))
    spread_of_f = np.sqrt(2 / (len(counts) - 1) + 2 / (len(y) - len(counts)))
    of_share = (found.estimate - inner.estimate) * (1 - share) / share * spread_of_f
    of_inner = leak["x"].estimate * inner.se
    se = float(np.sqrt(found.se**2 + of_inner**2 + of_share**2))
    half = float(stats.t.ppf(0.975, found.df)) * se
    p = float(2 * stats.t.sf(abs(found.estimate) / se, found.df))
    return Contrast(found.estimate, se, found.estimate - half, found.estimate + half, found.df, p)
