"""Numbers as they are read out: three figures, no false precision."""

from __future__ import annotations

import math

#: Fewer do not show how pitchers differ: the least that the coverage was simulated for.
ENOUGH_PITCHERS = 8


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
        width = abs(high - low)
        digits = max(0, 2 - math.floor(math.log10(width))) if width > 0 else 3
    digits = min(digits, 8)
    return f"{estimate:.{digits}f}, 95 % interval {low:.{digits}f} to {high:.{digits}f}"


def p_value(p: float) -> str:
    """Give a p value with its sign, as ``= 0.023`` or ``< 0.001``."""
    return "< 0.001" if p < 0.001 else f"= {p:.2g}" if p < 0.1 else f"= {p:.2f}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """Count things: ``1 pitcher``, ``3 pitchers``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def few_pitchers(count: int) -> list[str]:
    """Say that so few pitchers stand for nobody but themselves; nothing where there are enough."""
    if count >= ENOUGH_PITCHERS:
        return []
    return [
        f"{plural(count, 'pitcher')} {'is' if count == 1 else 'are'} too few to say anything of "
        "pitchers in general; intervals between pitchers are wide, and should be."
    ]
