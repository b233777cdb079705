"""Variance components of pitches in days in pitchers, with intervals.

Estimates are the analysis-of-variance ones for unequal numbers: unweighted means of means
(Thomas & Hultquist 1978, Annals of Statistics 6:582-587; Burdick & Graybill 1992, Confidence
Intervals on Variance Components). Intervals of any function of the components are generalised
ones: each mean square is replaced by itself over a chi-square draw divided by its degrees of
freedom (Weerahandi 1995, Exact Statistical Methods for Data Analysis, chapter 5).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study.cluster_robust import Array, Labels
from analysis.study.levels import means
from analysis.study.results import Interval, StudyError

_DRAWS = 20_000
_SEED = 20_240_229  # fixed: the same table always gives the same interval


@dataclass(frozen=True)
class Components:
    """Variances in the measure's unit squared: pitcher, day within pitcher, pitch within day.

    ``squares`` are the variance of the pitchers' means of day means, the pooled variance of
    day means within pitchers, and the pooled variance of pitches within days; ``dfs`` their
    degrees of freedom; ``days`` and ``pitches`` the harmonic means of days per pitcher and
    (over days) of pitches per day that tie the squares to the components.
    """

    pitcher: float
    day: float
    pitch: float
    squares: tuple[float, float, float]
    dfs: tuple[int, int, int]
    days: float
    pitches: float
    mean: float


def nested(values: Array, pitchers: Labels, days: Labels) -> Components:
    """Estimate from pitches (n,), with the pitcher and the day (0..) of each, both (n,).

    A day label may recur with other pitchers: a day is counted within its pitcher.
    """
    _, day_codes = np.unique(np.column_stack([pitchers, days]), axis=0, return_inverse=True)
    day_codes = day_codes.ravel().astype(np.int64)
    day_means = means(values, day_codes)
    owner = np.zeros(len(day_means), dtype=np.int64)
    owner[day_codes] = pitchers
    n, d, k = len(values), len(day_means), int(pitchers.max()) + 1
    if d == k:
        raise StudyError("every pitcher has only one day; days cannot be compared")
    if n == d:
        raise StudyError("every day has only one pitch of a pitcher; within-day spread is unknown")
    pitcher_means = means(day_means, owner)
    within = float(np.sum((values - day_means[day_codes]) ** 2)) / (n - d)
    between_days = float(np.sum((day_means - pitcher_means[owner]) ** 2)) / (d - k)
    between = float(np.var(pitcher_means, ddof=1))
    per_day = float(1 / np.mean(1 / np.bincount(day_codes)))
    per_pitcher = float(1 / np.mean(1 / np.bincount(owner)))
    day = between_days - within / per_day
    return Components(
        pitcher=max(between - between_days / per_pitcher, 0.0),
        day=max(day, 0.0),
        pitch=within,
        squares=(between, between_days, within),
        dfs=(k - 1, d - k, n - d),
        days=per_pitcher,
        pitches=per_day,
        mean=float(pitcher_means.mean()),
    )


def interval(parts: Components, of: Callable[[Array, Array, Array], Array]) -> Interval:
    """95 % generalised interval of ``of(pitcher, day, pitch)``, which takes and gives arrays."""
    rng = np.random.default_rng(_SEED)
    between, between_days, within = (
        square * df / stats.chi2.rvs(df, size=_DRAWS, random_state=rng)
        for square, df in zip(parts.squares, parts.dfs, strict=True)
    )
    day = np.maximum(between_days - within / parts.pitches, 0)
    pitcher = np.maximum(between - between_days / parts.days, 0)
    low, high = np.quantile(of(pitcher, day, within), [0.025, 0.975])
    point = of(np.array([parts.pitcher]), np.array([parts.day]), np.array([parts.pitch]))
    return Interval(float(point[0]), float(low), float(high))
