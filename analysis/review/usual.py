"""A pitcher's usual value in a session."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np


def usual(values: Iterable[float | None]) -> float | None:
    """Return the median of the values that were measured; None where there is none."""
    known = [v for v in values if v is not None]
    return float(np.median(known)) if known else None
