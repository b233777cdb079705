"""Does this mound say what the reference says? Bias and limits of agreement.

Differences are ours minus reference; 95 % of future differences are expected within
``bias +- 1.96 sd`` (see ``limits`` for the sources).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from analysis.study import cluster_robust
from analysis.study.cluster_robust import Array, Labels
from analysis.study.limits import Limits, Z, constant, single, varying
from analysis.study.results import Missing, StudyError
from analysis.study.table import Prepared

Design = Literal["single", "varying", "constant"]


@dataclass(frozen=True)
class Proportional:
    """Difference against the mean of both: ``slope`` per unit with its 95 % interval and p."""

    slope: float
    low: float
    high: float
    p: float


@dataclass(frozen=True)
class AgreementResult:
    """Answer to ``moundfeed study agreement``; units are the columns' own.

    ``design``: ``single`` (one pair each), ``varying`` (several pitches a pitcher, each
    measured by both) or ``constant`` (repeats of one true value for each pitcher).
    ``percent`` is bias and half the width between the limits as shares of the mean.
    """

    n: int
    n_pitchers: int | None
    design: Design
    ours: str
    reference: str
    bias: float
    sd: float
    lower_limit: float
    upper_limit: float
    limits: Limits
    bias_percent: float | None
    half_width_percent: float | None
    proportional: Proportional | None
    outside: int
    missing: Missing
    reading: str = ""


def estimate(
    prepared: Prepared,
    ours: str,
    reference: str,
    pitcher: str | None = None,
    truth: Literal["varying", "constant"] = "varying",
) -> AgreementResult:
    """Compare two columns; with ``pitcher``, as repeated measures where any repeats.

    ``truth="constant"`` is for repeats of a thing that does not change (a dead weight put on
    several times), not paired one to one; pitches vary, so ``"varying"`` is the rule.
    """
    a, b = prepared.numbers[ours], prepared.numbers[reference]
    if len(a) < 3:
        raise StudyError(f"{len(a)} pairs are too few to say anything about agreement")
    difference = a - b
    labels = None
    design: Design = "single"
    if pitcher is not None:
        labels, names = prepared.codes(pitcher)
        if len(names) < 2:
            raise StudyError(
                f"all pairs are of one pitcher ({names[0]}); leave the pitcher column out to "
                "treat the pairs as single ones of this pitcher"
            )
        design = truth if np.bincount(labels).max() > 1 else "single"
    if labels is None or design == "single":
        limits = single(difference)
    elif design == "varying":
        limits = varying(difference, labels)
    else:
        limits = constant(a, b, labels)
    middle = (a + b) / 2
    centre = abs(float(middle.mean()))
    meaningful = not middle.min() <= 0 <= middle.max()
    outside = (difference < limits.lower_limit) | (difference > limits.upper_limit)
    return AgreementResult(
        n=len(a),
        n_pitchers=None if labels is None else int(labels.max()) + 1,
        design=design,
        ours=ours,
        reference=reference,
        bias=limits.bias,
        sd=limits.sd,
        lower_limit=limits.lower_limit,
        upper_limit=limits.upper_limit,
        limits=limits,
        bias_percent=100 * limits.bias / centre if meaningful else None,
        half_width_percent=100 * Z * limits.sd / centre if meaningful else None,
        proportional=proportional(difference, middle, labels),
        outside=int(outside.sum()),
        missing=prepared.missing,
    )


def proportional(difference: Array, middle: Array, labels: Labels | None) -> Proportional | None:
    """Slope of the differences on the means (Bland & Altman 1999, section 3.1), both (n,).

    With pitchers, their pitches count as one cluster each (CR2). A slope also appears when the
    two devices merely differ in noise. ``None`` where the means do not vary.
    """
    if np.ptp(middle) == 0 or np.ptp(difference) == 0:
        return None
    if labels is not None and np.bincount(labels).max() > 1:
        design = np.column_stack([np.ones_like(middle), middle - middle.mean()])
        found = cluster_robust.fit(difference, design, labels).contrast(np.array([0.0, 1.0]))
        return Proportional(found.estimate, found.low, found.high, found.p)
    line = stats.linregress(middle, difference)
    half = float(stats.t.ppf(0.975, len(middle) - 2)) * float(line.stderr)
    slope = float(line.slope)
    return Proportional(slope, slope - half, slope + half, float(line.pvalue))
