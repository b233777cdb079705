"""Values no pitch can have: a speed of 900 is a wrong unit, not a fast ball.

The limits are wide on purpose: they catch wrong units and typing errors, not unusual
pitchers. They are common practice, no source, apart from the force limits, which are about
three times the largest of 100 pitchers (landing resultant 345 % of body weight, Wasserberger
et al. 2022, open data set).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.study.results import StudyError


@dataclass(frozen=True)
class Range:
    """What a column may hold, both ends included."""

    low: float
    high: float
    unit: str


_SUFFIXES = (
    ("_bw_per_s", Range(-100_000, 100_000, "% body weight per second")),
    ("_bws", Range(-1_000, 1_000, "% body weight x s")),
    ("_bw", Range(-1_000, 1_000, "% body weight")),
    ("_ns", Range(-3_000, 3_000, "N s")),
    ("_n", Range(-12_000, 12_000, "N")),
    ("_wkg", Range(-300, 300, "W/kg")),
    ("_w", Range(-30_000, 30_000, "W")),
    ("_j", Range(-5_000, 5_000, "J")),
    ("_deg", Range(-360, 360, "degrees")),
    ("_kg", Range(15, 250, "kg")),
    ("_mps", Range(-70, 70, "m/s")),
    ("_mph", Range(-150, 150, "miles per hour")),
    ("_kmh", Range(-250, 250, "km/h")),
    ("_m", Range(-30, 30, "m")),
    ("_s", Range(-60, 60, "s")),
)
_BALL_SPEED = (
    ("_mps", Range(3, 60, "m/s")),
    ("_mph", Range(7, 130, "miles per hour")),
    ("_kmh", Range(11, 210, "km/h")),
    ("", Range(3, 210, "m/s, miles per hour or km/h")),
)
_BODY = {
    "body_mass": Range(15, 250, "kg"),
    "mass": Range(15, 250, "kg"),
    "body_height": Range(0.8, 2.6, "m"),
    "height_m": Range(0.8, 2.6, "m"),
    "age": Range(4, 90, "years"),
}
#: Readings of a clock, not how long something took: a whole bullpen, or seconds of an epoch.
_CLOCKS = frozenset({"t_s", "time_s"})


def expected(column: str) -> Range | None:
    """What a column of this name may hold, or ``None`` where its name says nothing."""
    name = column.lower()
    if name in _CLOCKS:
        return None
    if name in _BODY:
        return _BODY[name]
    if name.removeprefix("ball_").removeprefix("pitch_").startswith("speed"):
        return next(limits for suffix, limits in _BALL_SPEED if name.endswith(suffix))
    return next((limits for suffix, limits in _SUFFIXES if name.endswith(suffix)), None)


def refuse_impossible(column: str, values: npt.NDArray[np.float64]) -> None:
    """Raise ``StudyError`` where a value (n,), NaN allowed, lies outside what its name allows."""
    limits = expected(column)
    if limits is None:
        return
    wrong = np.flatnonzero((values < limits.low) | (values > limits.high))
    if wrong.size:
        row = int(wrong[0])
        more = f" and {wrong.size - 1} more rows" if wrong.size > 1 else ""
        raise StudyError(
            f"column '{column}' cannot be in {limits.unit}: row {row + 1} says "
            f"{values[row]:g}{more} (possible: {limits.low:g} to {limits.high:g}); "
            "check the unit"
        )
