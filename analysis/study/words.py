"""Numbers as they are read out: three figures, no false precision."""

from __future__ import annotations

import math

from analysis.counted import counted

#: Fewer do not show how pitchers differ: the least that the coverage was simulated for.
ENOUGH_PITCHERS = 8
_MOST_DECIMALS = 8


def number(value: float, digits: int = 3) -> str:
    """Give a number to ``digits`` significant figures, without an exponent where it is readable."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    size = math.floor(math.log10(abs(value)))
    if not -4 <= size < 7:
        return f"{value:.{digits - 1}e}"
    return f"{value:.{max(digits - 1 - size, 0)}f}"


def interval(
    estimate: float, low: float | None, high: float | None, digits: int | None = None
) -> str:
    """Give an estimate with its 95 % interval, decimals fixed where ``digits`` is given."""
    if low is None or high is None:
        return number(estimate)
    if digits is None:
        digits = _decimals(low, high)
    return f"{estimate:.{digits}f}, 95 % interval {low:.{digits}f} to {high:.{digits}f}"


def alike(estimate: float, low: float, high: float) -> list[str]:
    """Give an estimate and the ends of its interval with one number of decimals, for a table."""
    decimals = _decimals(low, high)
    if decimals == _MOST_DECIMALS or not math.isfinite(low + high):
        return [number(value) for value in (estimate, low, high)]
    return [f"{value:.{decimals}f}" for value in (estimate, low, high)]


def interval_ends(low: float, high: float) -> str:
    """Give the ends of an interval alone."""
    _, first, last = alike(low, low, high)
    return f"{first} to {last}"


def _decimals(low: float, high: float) -> int:
    """Return how many decimals an interval deserves: three figures of its width."""
    width = abs(high - low)
    if not width or not math.isfinite(width):
        return 3
    return min(max(0, 2 - math.floor(math.log10(width))), _MOST_DECIMALS)


def p_value(p: float) -> str:
    """Give a p value with its sign, as ``= 0.023`` or ``< 0.001``."""
    return "< 0.001" if p < 0.001 else f"= {p:.2g}" if p < 0.1 else f"= {p:.2f}"


def few_pitchers(count: int) -> list[str]:
    """Say that so few pitchers stand for nobody but themselves; nothing where there are enough."""
    if count >= ENOUGH_PITCHERS:
        return []
    return [
        f"{counted(count, 'pitcher')} {'is' if count == 1 else 'are'} too few to say anything of "
        "pitchers in general; intervals between pitchers are wide, and should be."
    ]
