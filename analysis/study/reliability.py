"""How far can one number be believed? Reliability within a day and between days.

Pitches of a pitcher are repetitions in no fixed order, so the within-day form is ICC(1,1)
(one-way random effects, single measure; Shrout & Fleiss 1979). With unequal numbers of pitches
the analysis of variance uses n0, their usual effective number. SEM, the standard error of
measurement, is the root of the within mean square; MDC95 = 1.96 sqrt(2) SEM (Weir 2005,
Journal of Strength and Conditioning Research 19:231-240).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study import components
from analysis.study.cluster_robust import Array, Labels
from analysis.study.icc import Icc, all_forms, from_f
from analysis.study.levels import means, refuse_ungrouped
from analysis.study.results import Interval, Missing, StudyError
from analysis.study.table import Prepared

_TARGETS = (0.8, 0.9, 0.95)


@dataclass(frozen=True)
class PitchesNeeded:
    """Fewest pitches whose mean reaches a reliability, and the standard error it then has."""

    reliability: float
    pitches: int | None
    sem_of_mean: float | None


@dataclass(frozen=True)
class BetweenDays:
    """The same measure on another day: intervals are 95 %, units the measure's.

    ``icc`` is for one pitch on each day, ``icc_day_mean`` for the means of
    ``pitches_per_day``; ``sem_day_mean`` and ``mdc95_day_mean`` are of such means.
    """

    n_days: int
    icc: Interval
    icc_day_mean: Interval
    sem: Interval
    mdc95: float
    sem_day_mean: Interval
    mdc95_day_mean: float
    pitches_per_day: float
    sd_pitcher: float
    sd_day: float
    sd_pitch: float


@dataclass(frozen=True)
class ReliabilityResult:
    """Answer to ``moundfeed study reliability``: within a day unless ``between_days`` is given.

    ``cv_percent`` is SEM over the mean, ``None`` where the measure has no true zero in sight
    (a mean of zero or values of both signs). ``forms`` has the six coefficients of a complete
    table where repetitions were named.
    """

    measure: str
    n_pitches: int
    n_pitchers: int
    pitches_per_pitcher: float
    form: str
    icc: float
    low: float
    high: float
    sem: float
    sem_low: float
    sem_high: float
    mdc95: float
    cv_percent: float | None
    mean: float
    sd_between: float
    pitches_needed: list[PitchesNeeded]
    between_days: BetweenDays | None
    forms: list[Icc]
    missing: Missing
    reading: str = ""


def estimate(
    prepared: Prepared,
    measure: str,
    pitcher: str,
    day: str | None = None,
    repetition: str | None = None,
) -> ReliabilityResult:
    """Reliability of ``measure`` over pitches of pitchers.

    ``day`` names a column that separates days (sessions): "within a day" then means of
    one day. ``repetition`` names a column whose values recur for every pitcher (first
    and second mound, trial 1 to 3): the table is then complete and all six forms are given.
    """
    labels, names = prepared.codes(pitcher)
    values = prepared.numbers[measure]
    refuse_ungrouped(labels, names)
    if np.ptp(values) == 0:
        raise StudyError(f"'{measure}' is {values[0]:g} in every row")
    parts = None if day is None else components.nested(values, labels, prepared.codes(day)[0])
    within = one_way(values, labels) if parts is None else _within_a_day(parts)
    low_sem, high_sem = _sd_interval(within.sem, within.df)
    return ReliabilityResult(
        measure=measure,
        n_pitches=len(values),
        n_pitchers=len(names),
        pitches_per_pitcher=within.n0,
        form="ICC(1,1)",
        icc=within.icc,
        low=within.low,
        high=within.high,
        sem=within.sem,
        sem_low=low_sem,
        sem_high=high_sem,
        mdc95=detectable(within.sem),
        cv_percent=_cv(values, within.sem),
        mean=float(values.mean()),
        sd_between=within.sd_between,
        pitches_needed=[pitches_needed(within.icc, within.sem, t) for t in _TARGETS],
        between_days=None if parts is None else _between_days(parts),
        forms=[] if repetition is None else _forms(values, labels, prepared, repetition),
        missing=prepared.missing,
    )


@dataclass(frozen=True)
class OneWay:
    """One-way random-effects analysis: ICC(1,1) with limits, SEM and its degrees of freedom."""

    icc: float
    low: float
    high: float
    sem: float
    df: int
    n0: float
    sd_between: float


def one_way(values: Array, labels: Labels) -> OneWay:
    """Analyse ``values`` (n,) in groups ``labels`` 0..k-1 (n,); groups may be unequal."""
    n_i = np.bincount(labels)
    n, k = len(values), len(n_i)
    if n == k:
        raise StudyError("every group has only one pitch, so nothing repeats")
    group = means(values, labels)
    ms_within = float(np.sum((values - group[labels]) ** 2)) / (n - k)
    ms_between = float(np.sum(n_i * (group - values.mean()) ** 2)) / (k - 1)
    if ms_within <= 0:
        raise StudyError("every pitcher's pitches are identical, so no error can be estimated")
    n0 = float((n - np.sum(n_i**2) / n) / (k - 1))
    value, low, high = from_f(ms_between / ms_within, k - 1, n - k, n0)
    between = math.sqrt(max(ms_between - ms_within, 0.0) / n0)
    return OneWay(value, low, high, math.sqrt(ms_within), n - k, n0, between)


def _within_a_day(parts: components.Components) -> OneWay:
    """The same analysis of a single day, when several were measured.

    What a pitcher keeps for a day is real on that day. Days of one pitcher are not pitchers of
    their own: the interval rests on how many pitchers there are.
    """
    if parts.pitch <= 0:
        raise StudyError("every pitcher's pitches are identical, so no error can be estimated")
    icc = components.interval(parts, lambda p, d, e: (p + d) / (p + d + e))
    sd_between = math.sqrt(parts.pitcher + parts.day)
    sem, n0 = math.sqrt(parts.pitch), parts.pitches
    return OneWay(icc.estimate, icc.low, icc.high, sem, parts.dfs[2], n0, sd_between)


def detectable(sem: float) -> float:
    """MDC95: the smallest change of one number that is not measurement noise, 19 times in 20."""
    return float(stats.norm.ppf(0.975)) * math.sqrt(2) * sem


def pitches_needed(single: float, sem: float, target: float) -> PitchesNeeded:
    """Spearman-Brown turned round: n with ``n icc / (1 + (n - 1) icc) >= target``."""
    if not 0 < single < 1:
        return PitchesNeeded(target, None, None)
    n = max(1, math.ceil(target * (1 - single) / (single * (1 - target)) - 1e-9))
    return PitchesNeeded(target, n, sem / math.sqrt(n))


def _cv(values: Array, sem: float) -> float | None:
    if values.min() <= 0 <= values.max():
        return None
    return 100 * sem / abs(float(values.mean()))


def _sd_interval(sd: float, df: int) -> tuple[float, float]:
    """95 % interval of a standard deviation from its chi-square distribution."""
    low, high = (sd * math.sqrt(df / float(stats.chi2.ppf(q, df))) for q in (0.975, 0.025))
    return low, high


def _between_days(parts: components.Components) -> BetweenDays:
    m = parts.pitches
    sem = components.interval(parts, lambda p, d, e: np.sqrt(d + e))
    sem_mean = components.interval(parts, lambda p, d, e: np.sqrt(d + e / m))
    return BetweenDays(
        n_days=sum(parts.dfs[:2]) + 1,
        icc=components.interval(parts, lambda p, d, e: p / (p + d + e)),
        icc_day_mean=components.interval(parts, lambda p, d, e: p / (p + d + e / m)),
        sem=sem,
        mdc95=detectable(sem.estimate),
        sem_day_mean=sem_mean,
        mdc95_day_mean=detectable(sem_mean.estimate),
        pitches_per_day=m,
        sd_pitcher=math.sqrt(parts.pitcher),
        sd_day=math.sqrt(parts.day),
        sd_pitch=math.sqrt(parts.pitch),
    )


def _forms(values: Array, labels: Labels, prepared: Prepared, column: str) -> list[Icc]:
    codes, names = prepared.codes(column)
    table = np.full((int(labels.max()) + 1, len(names)), np.nan)
    if len(values) != table.size or len(set(zip(labels, codes, strict=True))) != table.size:
        raise StudyError(
            f"'{column}' must have each of its {len(names)} values exactly once for every pitcher"
        )
    table[labels, codes] = values
    return all_forms(table)
