"""The most urgent sentence, as it stands at the top of every screen."""

from __future__ import annotations

from collections.abc import Sequence

from stream.snapshot import Level, Sentence
from tui.safe_text import plain
from tui.said import in_units
from tui.units import Units
from tui.widgets.line_text import Runs
from tui.words import LEVEL_STYLE, SIGNS, rows_of


def urgent_lines(
    sentences: Sequence[Sentence], units: Units, width: int, style: str, more: str = ""
) -> list[Runs]:
    """Return the most urgent sentence, if any is more than news, wrapped to ``width``.

    ``more`` follows it where others are as well, with their number for ``{}``.
    """
    urgent = [s for s in sentences if s.level is not Level.INFO]
    if not urgent:
        return []
    worst = min(urgent, key=lambda s: s.level is not Level.ALARM)
    others = more.format(len(urgent) - 1) if len(urgent) > 1 else ""
    parts = rows_of(f"{in_units(plain(worst.text, 300), units)}{others}", width - 5)
    return [
        [
            (f" {SIGNS[worst.level]} " if not row else "   ", LEVEL_STYLE[worst.level]),
            (f" {part}", style),
        ]
        for row, part in enumerate(parts)
    ]
