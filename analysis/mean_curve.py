"""Mean and spread of several pitches' curves, by one rule for report and review.

A mean is of the same pitches at every moment: one whose pitches drop out one
by one would jump where each does.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stream.layout import Array

Mask = npt.NDArray[np.bool_]

#: Fewest pitches for a band: a spread of fewer says little (common practice, no source).
BAND_FROM = 3
#: The mean ends where fewer than this share of the pitches go on: in small sessions with the first
#: that ends, in large ones a few broken curves do not cut it short.
MEAN_SHARE = 0.95


def shared(values: Array) -> tuple[Mask, Mask]:
    """Return the pitches (n,) and times (t,) over which a mean is of the same pitches throughout.

    ``values`` (n, t) are NaN where a pitch has no curve.
    """
    known = np.isfinite(values)
    times: Mask = known.mean(axis=0) >= MEAN_SHARE
    rows: Mask = np.all(known[:, times], axis=1)
    if rows.mean() < MEAN_SHARE:  # holes here and there: all pitches, where all are known
        rows, times = np.ones(len(values), dtype=bool), np.all(known, axis=0)
    return rows, times


def mean_and_sd(values: Array, rows: Mask, times: Mask) -> tuple[Array, Array]:
    """Return mean and SD (n - 1) over the pitches ``rows`` at ``times``, (t,); NaN at others."""
    mean, sd = np.full((2, len(times)), np.nan)
    own = values[np.ix_(rows, times)]
    mean[times] = own.mean(axis=0)
    if len(own) > 1:
        sd[times] = own.std(axis=0, ddof=1)
    return mean, sd
