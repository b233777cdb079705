"""Small exact operations on sampled curves; positions are fractional sample indices."""

from __future__ import annotations

import math

import numpy as np

from stream.layout import Array


def value_at(values: Array, position: float) -> float:
    """Return ``values`` (n,) at a fractional position, linear between samples."""
    low = min(max(math.floor(position), 0), len(values) - 1)
    high = min(low + 1, len(values) - 1)
    share = position - low
    return float(values.item(low) * (1.0 - share) + values.item(high) * share)


def between(values: Array, start: float, end: float) -> Array:
    """Return the samples inside [start, end] with the two interpolated end values around them."""
    inside = values[math.floor(start) + 1 : math.ceil(end)]
    points = np.empty(len(inside) + 2)
    points[0], points[1:-1], points[-1] = value_at(values, start), inside, value_at(values, end)
    return points


def integral(values: Array, start: float, end: float, rate_hz: float) -> float:
    """Return the trapezoid-rule integral from ``start`` to ``end``, end samples interpolated."""
    if end <= start:
        return 0.0
    points = between(values, start, end)
    steps = np.ones(len(points) - 1)
    first, last = math.floor(start) + 1, math.ceil(end) - 1
    if first > last:
        steps[0] = end - start
    else:
        steps[0], steps[-1] = first - start, end - last
    return float(np.dot(steps, points[1:] + points[:-1]) / (2.0 * rate_hz))


def running_integral(values: Array, start: float, rate_hz: float) -> Array:
    """Return the trapezoid-rule integral from ``start`` to every sample; 0 before ``start``."""
    total = np.zeros(len(values))
    first = math.floor(start) + 1
    if first >= len(values):
        return total
    total[first] = integral(values, start, float(first), rate_hz)
    steps = (values[first + 1 :] + values[first:-1]) / (2.0 * rate_hz)
    total[first + 1 :] = total[first] + np.cumsum(steps)
    return total


def rising_crossings(values: Array, level: float) -> Array:
    """Return where ``values`` crosses ``level`` upward, interpolated; (k,) positions."""
    below = values < level
    at = np.flatnonzero(below[:-1] & ~below[1:])
    step = values[at + 1] - values[at]
    return np.asarray(at + (level - values[at]) / step)


def falling_crossings(values: Array, level: float) -> Array:
    """Return where ``values`` crosses ``level`` downward, interpolated; (k,) positions."""
    return rising_crossings(-values, -level)


def peak_position(values: Array, start: float, end: float) -> float | None:
    """Return where the greatest sample inside [start, end] lies, refined by a parabola.

    The three samples around the greatest one define the parabola; None if no
    sample lies inside.
    """
    first, stop = math.ceil(start), math.floor(end) + 1
    if stop <= first:
        return None
    top = first + int(np.argmax(values[first:stop]))
    if not first < top < stop - 1:
        return float(top)
    before, here, after = values[top - 1], values[top], values[top + 1]
    bend = before - 2.0 * here + after
    if bend == 0.0:
        return float(top)
    return float(top + 0.5 * (before - after) / bend)


def peak_value(values: Array, position: float) -> float:
    """Return the greatest sample, which :func:`peak_position` lies within half a sample of."""
    return float(values.item(round(position)))


def steepest_slope(values: Array, start: float, end: float, span: float) -> float | None:
    """Return the greatest mean slope over any ``span`` samples inside [start, end], per sample.

    Candidates begin at each sample and at ``start``; None if ``span`` does not
    fit between ``start`` and ``end``.
    """
    last = end - span
    if last < start:
        return None
    grid = np.arange(math.ceil(start), math.floor(last) + 1, dtype=float)
    begins = np.concatenate([[start], grid, [last]])
    axis = np.arange(len(values), dtype=float)
    rises = np.interp(begins + span, axis, values) - np.interp(begins, axis, values)
    return float(rises.max() / span)
