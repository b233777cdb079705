"""The six intraclass correlations of a complete table: targets in rows, raters in columns.

Source: Shrout & Fleiss 1979, Psychological Bulletin 86:420-428, whose notation is kept:
ICC(model, k). Model 1: one-way random; 2: two-way random, absolute agreement; 3: two-way
mixed, consistency. Here a target is a pitcher, a "rater" a day, a mound or a repetition.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError


@dataclass(frozen=True)
class MeanSquares:
    """Two-way analysis of variance: between targets, within targets, raters, residual."""

    n: int
    k: int
    targets: float
    within: float
    raters: float
    residual: float


@dataclass(frozen=True)
class Icc:
    """One coefficient in the standard notation with its 95 % interval."""

    form: str
    icc: float
    low: float
    high: float


def mean_squares(table: Array) -> MeanSquares:
    """Analyse a complete table (n targets, k raters); both at least two."""
    n, k = table.shape
    if n < 2 or k < 2:
        raise StudyError(f"{n} pitchers and {k} repetitions are too few; two of each are needed")
    rows, columns, all_ = table.mean(axis=1), table.mean(axis=0), table.mean()
    within = float(np.sum((table - rows[:, None]) ** 2))
    raters = float(n * np.sum((columns - all_) ** 2))
    return MeanSquares(
        n=n,
        k=k,
        targets=float(k * np.sum((rows - all_) ** 2)) / (n - 1),
        within=within / (n * (k - 1)),
        raters=raters / (k - 1),
        residual=max(within - raters, 0.0) / ((n - 1) * (k - 1)),
    )


def all_forms(table: Array) -> list[Icc]:
    """ICC(1,1), (2,1), (3,1), (1,k), (2,k), (3,k) of a complete table (n, k)."""
    ms = mean_squares(table)
    if not ms.within > 0 or not ms.residual > 0:
        raise StudyError("the repetitions are identical, so no reliability can be computed")
    singles = [_one_way(ms), _absolute(ms), _consistency(ms)]
    averages = [
        Icc(f"ICC({model},{ms.k})", *(_stepped_up(v, ms.k) for v in (one.icc, one.low, one.high)))
        for model, one in enumerate(singles, start=1)
    ]
    return singles + averages


def _stepped_up(icc: float, k: int) -> float:
    """Spearman-Brown: reliability of a mean of ``k`` from that of one."""
    return k * icc / (1 + (k - 1) * icc)


def from_f(f: float, df1: float, df2: float, k: float) -> tuple[float, float, float]:
    """ICC and 95 % limits from an F ratio: ``(F - 1) / (F + k - 1)`` at F and its two bounds."""
    lower = f / float(stats.f.ppf(0.975, df1, df2))
    upper = f * float(stats.f.ppf(0.975, df2, df1))
    icc, low, high = ((v - 1) / (v + k - 1) for v in (f, lower, upper))
    return icc, low, high


def _one_way(ms: MeanSquares) -> Icc:
    f = ms.targets / ms.within
    return Icc("ICC(1,1)", *from_f(f, ms.n - 1, ms.n * (ms.k - 1), ms.k))


def _consistency(ms: MeanSquares) -> Icc:
    f = ms.targets / ms.residual
    return Icc("ICC(3,1)", *from_f(f, ms.n - 1, (ms.n - 1) * (ms.k - 1), ms.k))


def _absolute(ms: MeanSquares) -> Icc:
    """Two-way random; the interval is the paper's (its df for the mixture of mean squares)."""
    n, k, b, j, e = ms.n, ms.k, ms.targets, ms.raters, ms.residual
    icc = (b - e) / (b + (k - 1) * e + k * (j - e) / n)
    f_j = j / e
    inner = n * (1 + (k - 1) * icc) - k * icc
    v = (
        (k - 1)
        * (n - 1)
        * (k * icc * f_j + inner) ** 2
        / ((n - 1) * k**2 * icc**2 * f_j**2 + inner**2)
    )
    up, down = (float(stats.f.ppf(0.975, *df)) for df in ((n - 1, v), (v, n - 1)))
    rest = k * j + (k * n - k - n) * e
    low = n * (b - up * e) / (up * rest + n * b)
    high = n * (down * b - e) / (rest + n * down * b)
    return Icc("ICC(2,1)", icc, float(low), float(high))
