"""Limits of agreement and their intervals, for single and for repeated measures.

Sources: Bland & Altman 1986, Lancet i:307-310; 1999, Statistical Methods in Medical Research
8:135-160; 2007, Journal of Biopharmaceutical Statistics 17:571-582. Intervals of limits from
repeated measures: Zou 2013, Statistical Methods in Medical Research 22:630-642 (method of
variance estimates recovery).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study.cluster_robust import Array, Labels
from analysis.study.levels import means
from analysis.study.results import StudyError

Z = float(stats.norm.ppf(0.975))


@dataclass(frozen=True)
class Limits:
    """Bias, the SD of a single difference, limits of agreement, and their 95 % intervals.

    ``sd_between`` and ``sd_within`` split the SD into pitchers and pitches where there are
    several pitches a pitcher.
    """

    bias: float
    bias_low: float
    bias_high: float
    sd: float
    lower_limit: float
    lower_limit_low: float
    lower_limit_high: float
    upper_limit: float
    upper_limit_low: float
    upper_limit_high: float
    sd_between: float | None
    sd_within: float | None


def single(difference: Array) -> Limits:
    """One difference for each subject (n,).

    Interval of a limit: t with n - 1 degrees of freedom times
    ``sd sqrt(1/n + 1.96^2 / (2 (n - 1)))`` (Bland & Altman 1999).
    """
    n = len(difference)
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    t = float(stats.t.ppf(0.975, n - 1))
    half_bias = t * sd / math.sqrt(n)
    half = t * sd * math.sqrt(1 / n + Z**2 / (2 * (n - 1)))
    return _limits(bias, half_bias, sd, (half, half), sd_between=None, sd_within=None)


def varying(difference: Array, labels: Labels) -> Limits:
    """Several pairs a pitcher while the true value changes; ``difference`` is (n,).

    Between-pitcher plus within-pitcher variance of the paired differences by analysis of
    variance (Bland & Altman 2007, section 3); the bias is the mean of all differences.
    """
    n_i = np.bincount(labels)
    n, k = len(difference), len(n_i)
    group = means(difference, labels)
    bias = float(difference.mean())
    within = float(np.sum((difference - group[labels]) ** 2)) / (n - k)
    between_square = float(np.sum(n_i * (group - bias) ** 2)) / (k - 1)
    n0 = (n - float(np.sum(n_i**2)) / n) / (k - 1)
    between = max((between_square - within) / n0, 0.0)
    variance = between + within
    se = math.sqrt(between * float(np.sum(n_i**2)) / n**2 + within / n)
    half_bias = float(stats.t.ppf(0.975, k - 1)) * se
    harmonic = float(1 / np.mean(1 / n_i))
    parts = [(float(np.var(group, ddof=1)), k - 1), ((1 - 1 / harmonic) * within, n - k)]
    return _recovered(
        bias, half_bias, variance=variance, parts=parts, between=between, within=within
    )


def constant(ours: Array, reference: Array, labels: Labels) -> Limits:
    """Repeats of one true value for each pitcher, by each device: both (n,), not paired.

    Variance of the differences of means plus ``(1 - mean(1/m))`` times each device's
    within-pitcher variance (Bland & Altman 1999, section 5; 2007, section 2).
    """
    n_i = np.bincount(labels)
    n, k = len(ours), len(n_i)
    if n == k:
        raise StudyError("repeats are needed for a constant true value")
    gap = means(ours, labels) - means(reference, labels)
    keep = 1 - float(np.mean(1 / n_i))
    noise = [
        float(np.sum((values - means(values, labels)[labels]) ** 2)) / (n - k)
        for values in (ours, reference)
    ]
    of_means = float(np.var(gap, ddof=1))
    variance = of_means + keep * sum(noise)
    half_bias = float(stats.t.ppf(0.975, k - 1)) * math.sqrt(of_means / k)
    parts = [(of_means, k - 1), (keep * noise[0], n - k), (keep * noise[1], n - k)]
    return _recovered(
        float(gap.mean()),
        half_bias,
        variance=variance,
        parts=parts,
        between=of_means,
        within=sum(noise),
    )


def _recovered(
    bias: float,
    half_bias: float,
    *,
    variance: float,
    parts: list[tuple[float, int]],
    between: float,
    within: float,
) -> Limits:
    """Limits with intervals recovered from those of the bias and of each variance (with its df)."""
    sd = math.sqrt(variance)
    low, high = (
        math.sqrt(sum((part * (df / float(stats.chi2.ppf(q, df)) - 1)) ** 2 for part, df in parts))
        for q in (0.975, 0.025)
    )
    sd_low, sd_high = math.sqrt(max(variance - low, 0.0)), math.sqrt(variance + high)
    inner = math.hypot(half_bias, Z * (sd - sd_low))
    outer = math.hypot(half_bias, Z * (sd_high - sd))
    return _limits(
        bias,
        half_bias,
        sd,
        (inner, outer),
        sd_between=math.sqrt(between),
        sd_within=math.sqrt(within),
    )


def _limits(
    bias: float,
    half_bias: float,
    sd: float,
    half_limit: tuple[float, float],
    *,
    sd_between: float | None,
    sd_within: float | None,
) -> Limits:
    """Put together; ``half_limit`` is the reach of a limit's interval inwards and outwards."""
    inner, outer = half_limit
    lower, upper = bias - Z * sd, bias + Z * sd
    return Limits(
        bias=bias,
        bias_low=bias - half_bias,
        bias_high=bias + half_bias,
        sd=sd,
        lower_limit=lower,
        lower_limit_low=lower - outer,
        lower_limit_high=lower + inner,
        upper_limit=upper,
        upper_limit_low=upper - inner,
        upper_limit_high=upper + outer,
        sd_between=sd_between,
        sd_within=sd_within,
    )
