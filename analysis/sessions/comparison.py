"""Several sessions side by side: each pitcher's median and spread, and how the medians differ.

Interval of a difference: the distribution-free 95 % interval for the
difference of two medians of Price & Bonett 2002 (Journal of Statistical
Computation and Simulation 72:119-124), with the variance of a median from
order statistics (Price & Bonett 2001, same journal 68:295-305). It speaks of
the pitches of those two sessions only: that days differ by themselves is not
in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.baseline import COMPARE_FROM, MAD_TO_SD
from analysis.sessions.series import Quantity, by_pitcher, pitchers_of, series
from stream.layout import Array
from stream.outputs import PitchRecord

METHOD = (
    "medians; spread is 1.4826 times the median absolute deviation; 95 % interval of a difference "
    "of medians after Price & Bonett 2002"
)
_Z = float(stats.norm.ppf(0.975))


@dataclass(frozen=True, slots=True)
class Cell:
    """One pitcher's quantity in one session: None where nothing was measured, or too little."""

    count: int
    median: float | None
    spread: float | None
    least: float | None
    greatest: float | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A session's median minus the first session's, with its 95 % interval; None: too few."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Row:
    """One pitcher and quantity: a cell a session, and each session's difference to the first."""

    pitcher: str
    quantity: Quantity
    cells: tuple[Cell, ...]
    differences: tuple[Difference | None, ...]


def cell(values: Array) -> Cell:
    """Summarise ``values`` (n,); the spread from COMPARE_FROM values on."""
    if not len(values):
        return Cell(0, None, None, None, None)
    median = float(np.median(values))
    spread = MAD_TO_SD * float(np.median(np.abs(values - median)))
    return Cell(
        len(values),
        median,
        spread if len(values) >= COMPARE_FROM else None,
        float(values.min()),
        float(values.max()),
    )


def difference(first: Array, other: Array) -> Difference | None:
    """Return the median of ``other`` (m,) minus that of ``first`` (n,); None where too few."""
    if min(len(first), len(other)) < COMPARE_FROM:
        return None
    estimate = float(np.median(other) - np.median(first))
    half = _Z * math.hypot(median_se(first), median_se(other))
    return Difference(estimate, estimate - half, estimate + half)


def median_se(values: Array) -> float:
    """Return the standard error of the median of ``values`` (n,) after Price & Bonett 2001."""
    ordered = np.sort(values)
    count = len(ordered)
    rank = max(1, round((count + 1) / 2.0 - math.sqrt(count)))
    z = float(stats.norm.isf(stats.binom.cdf(rank - 1, count, 0.5)))
    return float(ordered[count - rank] - ordered[rank - 1]) / (2.0 * z)


def side_by_side(
    sessions: Sequence[Sequence[PitchRecord]], quantities: Sequence[Quantity]
) -> tuple[Row, ...]:
    """Return a row for each pitcher and quantity measured in any of ``sessions``, in order."""
    apart = [by_pitcher(records) for records in sessions]
    codes = pitchers_of([record for records in sessions for record in records])
    rows = []
    for code in codes:
        for what in quantities:
            values = [series(code, own.get(code, []), what).values for own in apart]
            if any(len(v) for v in values):
                differences = tuple(difference(values[0], other) for other in values[1:])
                rows.append(Row(code, what, tuple(map(cell, values)), differences))
    return tuple(rows)
