"""Does a pitcher's quantity rise or fall over a session?

A straight line by least squares over the pitcher's own pitch count; its 95 %
interval by Student's t. The interval takes pitches as independent: where
neighbours resemble each other it is too narrow. A trend describes the
session; it names no cause.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from stream.layout import Array

METHOD = "least-squares line over the pitcher's own pitch count, 95 % interval by Student's t"
#: Fewest pitches for a trend (common practice, no source).
TREND_FROM = 10
_TAIL = 0.975


@dataclass(frozen=True, slots=True)
class Trend:
    """A line through ``count`` values.

    ``slope``, its 95 % interval ``low`` to ``high`` and its standard error
    ``se`` are units per pitch; ``start`` is the line's value at pitch 0;
    ``residual`` is the SD about the line.
    """

    count: int
    slope: float
    se: float
    low: float
    high: float
    start: float
    residual: float

    @property
    def stands_out(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0

    def at(self, order: float) -> float:
        """Return the line's value at the pitcher's pitch ``order``."""
        return self.start + self.slope * order


def trend(order: Array, values: Array, at_least: int = TREND_FROM) -> Trend | None:
    """Return the line of ``values`` (n,) over ``order`` (n,); None below ``at_least`` values."""
    count = len(values)
    if count < max(at_least, 3):
        return None
    centred = order - order.mean()
    width = float(np.dot(centred, centred))
    slope = float(np.dot(centred, values - values.mean())) / width
    start = float(values.mean()) - slope * float(order.mean())
    left = values - start - slope * order
    residual = math.sqrt(float(np.dot(left, left)) / (count - 2))
    se = residual / math.sqrt(width)
    half = float(stats.t.ppf(_TAIL, count - 2)) * se
    return Trend(count, slope, se, slope - half, slope + half, start, residual)
