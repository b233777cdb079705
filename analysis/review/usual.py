"""A pitcher's usual value in a session, and how far the pitches lie apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from analysis.baseline import MAD_TO_SD

#: Fewest values for a spread.
SPREAD_FROM = 3


def usual(values: Iterable[float | None]) -> float | None:
    """Return the median of the values that were measured; None where there is none."""
    known = [v for v in values if v is not None]
    return float(np.median(known)) if known else None


def spread(values: Sequence[float | None]) -> float | None:
    """Return 1.4826 times the median absolute deviation of the values that were measured.

    The factor makes it the standard deviation of normal values; one odd pitch
    does not carry it away. None for fewer than ``SPREAD_FROM`` values.
    """
    known = np.array([v for v in values if v is not None])
    if known.size < SPREAD_FROM:
        return None
    return MAD_TO_SD * float(np.median(np.abs(known - np.median(known))))
