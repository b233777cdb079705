"""A feed at a higher rate, so that it fits beside a motion capture's frames.

A C3D file's analog rate is a whole multiple of its point rate (C3D user guide, "The ANALOG group",
ANALOG:RATE). Where the feed's own rate is none, the feed is brought to the least common multiple
by a cubic spline through its samples, which keeps each of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt
from scipy.interpolate import make_interp_spline

from analysis.exports.errors import ExportError

Array = npt.NDArray[np.float64]

MOST_ANALOG_HZ = 10_000.0
_LEAST_SAMPLES = 8


@dataclass(frozen=True)
class RatePlan:
    """``analog_hz`` = ``per_point`` x ``point_hz`` = ``up`` x the feed's rate."""

    point_hz: float
    analog_hz: float
    per_point: int
    up: int

    def words(self) -> str:
        """Return how the analog samples came about."""
        if self.up == 1:
            return "the feed's own samples, not filtered"
        return (
            f"cubic spline through the feed's samples, {self.up} for each; every original sample "
            "is kept; not filtered"
        )


def plan_rates(feed_hz: float, point_hz: float | None) -> RatePlan:
    """Return the rates of a C3D file; raise :class:`ExportError` where none is sensible."""
    if point_hz is not None and not math.isfinite(point_hz):
        raise ExportError(f"a point rate of {point_hz:g} Hz cannot be used")
    feed = Fraction(feed_hz).limit_denominator(1000)
    point = feed if point_hz is None else Fraction(point_hz).limit_denominator(1000)
    if point <= 0 or abs(float(point) - (point_hz or feed_hz)) > 1e-6:
        raise ExportError(f"a point rate of {point_hz:g} Hz cannot be used")
    analog = Fraction(
        math.lcm(feed.numerator, point.numerator), math.gcd(feed.denominator, point.denominator)
    )
    if analog > MOST_ANALOG_HZ:
        raise ExportError(
            f"points at {point_hz:g} Hz and a feed at {feed_hz:g} Hz fit together only at "
            f"{float(analog):g} Hz; write it without --point-rate (force alone, beside the other "
            "file on one clock)"
        )
    return RatePlan(float(point), float(analog), int(analog / point), int(analog / feed))


def resample(values: Array, up: int) -> tuple[Array, Array]:
    """Return ``values`` (n, k) with ``up`` samples for each, ((n - 1) up + 1, k), and the error.

    The error (k,) is estimated as the largest difference to a spline of the fifth degree. For
    content up to 40 Hz (the filter of the measurement) the true one is about twice that and under
    0.2 % of the peak on simulated deliveries. Faster content was never in the feed: during the
    first 20 ms of a hard landing faster plates may read up to 2 % of the peak otherwise.
    """
    if up == 1:
        return values, np.zeros(values.shape[1])
    if len(values) < _LEAST_SAMPLES:
        raise ExportError(f"{len(values)} samples are too few to be resampled")
    at = np.arange(len(values), dtype=float)
    fine = np.arange((len(values) - 1) * up + 1) / up
    cubic: Array = make_interp_spline(at, values, k=3)(fine)
    # Exactly the samples themselves, not to the last bit nearly.
    cubic[::up] = values
    fifth: Array = make_interp_spline(at, values, k=5)(fine)
    return cubic, np.abs(cubic - fifth).max(axis=0)
