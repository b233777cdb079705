"""Correlation for repeated measures: do two measures move together within pitchers?

Source: Bland & Altman 1995, BMJ 310:446; Bakdash & Marusich 2017, Frontiers in Psychology
8:456. The pitchers' means are taken out, one common slope is assumed, and the degrees of
freedom count the pitchers: N - k - 1. The interval is Fisher's with standard error
``1 / sqrt(df - 1)``, that of an ordinary correlation with the same degrees of freedom (one
published program uses df - 3, which is a little wider).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study import levels
from analysis.study.cluster_robust import Array
from analysis.study.results import Missing, StudyError
from analysis.study.table import Prepared


@dataclass(frozen=True)
class CorrelationResult:
    """Answer to ``moundfeed study correlate``.

    ``r`` within pitchers with its 95 % interval; beside it ``r_means`` of the pitchers' means
    and ``r_pooled`` of all pitches, which answer other questions. ``slope`` is y per unit of x.
    """

    n_pitches: int
    n_pitchers: int
    x: str
    y: str
    r: float
    low: float
    high: float
    df: int
    p: float
    slope: float
    r_means: float | None
    r_pooled: float
    missing: Missing
    reading: str = ""


def estimate(prepared: Prepared, x: str, y: str, pitcher: str) -> CorrelationResult:
    """Correlate two columns within pitchers; a pitcher with one pitch adds nothing."""
    labels, names = prepared.codes(pitcher)
    levels.refuse_ungrouped(labels, names)
    parts = levels.split({"x": prepared.numbers[x], "y": prepared.numbers[y]}, labels)
    for name, varies in zip((x, y), parts.varies_within, strict=True):
        if not varies:
            raise StudyError(f"'{name}' does not change from pitch to pitch within any pitcher")
    u, v = parts.within.T
    n, k = len(u), len(names)
    df = n - k - 1
    if df < 2:
        raise StudyError(f"{n} pitches of {k} pitchers are too few for a correlation within")
    r = float(np.clip(u @ v / np.sqrt((u @ u) * (v @ v)), -1, 1))
    half = float(stats.norm.ppf(0.975)) / np.sqrt(df - 1)
    z = np.arctanh(np.clip(r, -1 + 1e-15, 1 - 1e-15))
    t = r * np.sqrt(df / max(1 - r * r, 1e-300))
    tell_apart = k > 2 and all(parts.varies_between)
    return CorrelationResult(
        n_pitches=n,
        n_pitchers=k,
        x=x,
        y=y,
        r=r,
        low=float(np.tanh(z - half)),
        high=float(np.tanh(z + half)),
        df=df,
        p=float(2 * stats.t.sf(abs(t), df)),
        slope=float(u @ v / (u @ u)),
        r_means=_pearson(parts.between) if tell_apart else None,
        r_pooled=_pearson(parts.total),
        missing=prepared.missing,
    )


def _pearson(two_columns: Array) -> float:
    return float(stats.pearsonr(two_columns[:, 0], two_columns[:, 1]).statistic)
