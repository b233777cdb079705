"""A difference and its interval as a row of characters, in spreads of the first session."""

from __future__ import annotations

from analysis.sessions.comparison import Difference

#: Where the axis ends, spreads of the first session either way.
REACH = 8.0


def axis_words(width: int) -> tuple[str, str]:
    """Return the two headings above :func:`interval_drawn` of the same width."""
    ends = f"{-REACH:g}", f"+{REACH:g}"
    half = width // 2
    scale = ends[0].ljust(half) + "0".ljust(half + 1 - len(ends[1])) + ends[1]
    words = "in spreads of the first session"
    return (words if len(words) <= width else "in spreads").center(width), scale


def interval_drawn(difference: Difference | None, spread: float | None, width: int) -> str:
    """Return estimate and interval on an axis of ``width`` (odd) characters, 0 in the middle.

    Blank where there is no interval or no spread to measure it in; an arrow
    at an end says that it goes on beyond.
    """
    if difference is None or not spread:
        return ""
    half = width // 2
    cells = [" "] * (2 * half + 1)
    cells[half] = "│"

    def column(value: float) -> int:
        return round(half * (1.0 + value / spread / REACH))

    low, middle, high = (column(v) for v in (difference.low, difference.estimate, difference.high))
    for at in range(max(0, low), min(2 * half, high) + 1):
        cells[at] = "┼" if at == half else "─"
    if 0 <= middle <= 2 * half:
        cells[middle] = "●"
    if low < 0:
        cells[0] = "◀"
    if high > 2 * half:
        cells[-1] = "▶"
    return "".join(cells)
