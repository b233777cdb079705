"""Curves of several pitches on one time axis: one pitch, a mean and its band, values at a moment.

Time is counted from foot contact and not stretched: pitches are compared at
the same time before and after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from analysis.curves import Component, Curves, curves
from analysis.mean_curve import BAND_FROM, mean_and_sd, shared
from stream.outputs import Array, PitchRecord, Traces


@dataclass(frozen=True, eq=False)
class Band:
    """Mean and standard deviation (n - 1) of each leg's curve over ``count`` pitches.

    Arrays are (n,) over ``time_s``, NaN where not all of these were measured.
    """

    count: int
    time_s: Array
    drive: Array
    drive_sd: Array
    lead: Array
    lead_sd: Array


def leg_curves(
    record: PitchRecord, traces: Traces, component: Component, *, newtons: bool
) -> Curves:
    """Return both legs' curves in newtons, or in % of body weight where that is known."""
    if newtons:
        record = msgspec.structs.replace(record, body_weight_n=None)
    return curves(record, traces, component)


def band(sets: Sequence[Curves], rate_hz: float) -> Band | None:
    """Return mean and spread of ``sets``; None where there are too few of one unit."""
    units = {c.unit for c in sets}
    if len(sets) < BAND_FROM or len(units) != 1:
        return None
    first = min(float(c.time_s[0]) for c in sets)
    last = max(float(c.time_s[-1]) for c in sets)
    steps = np.arange(np.ceil(first * rate_hz), np.floor(last * rate_hz) + 1)
    time_s: Array = steps / rate_hz
    drive = np.vstack([_at(time_s, c.time_s, c.drive) for c in sets])
    lead = np.vstack([_at(time_s, c.time_s, c.lead) for c in sets])
    rows, times = shared(drive + lead)
    return Band(
        int(rows.sum()),
        time_s,
        *mean_and_sd(drive, rows, times),
        *mean_and_sd(lead, rows, times),
    )


def value_at(time_s: Array, values: Array, moment_s: float) -> float | None:
    """Return a curve's value at a moment, between samples on a straight line; None outside it."""
    value = float(np.interp(moment_s, time_s, values, left=np.nan, right=np.nan))
    return value if np.isfinite(value) else None


def place_at(time_s: Array, places: Array, moment_s: float) -> tuple[float, float] | None:
    """Return the centre of pressure (x, y) at a moment, m; None where the foot carries too little.

    ``places`` is (n, 2).
    """
    x, y = (value_at(time_s, places[:, axis], moment_s) for axis in (0, 1))
    return None if x is None or y is None else (x, y)


def _at(moments: Array, time_s: Array, values: Array) -> Array:
    return np.interp(moments, time_s, values, left=np.nan, right=np.nan)
