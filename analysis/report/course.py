"""How each pitcher's values ran over the session: a plot a quantity, with the line through them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.baseline import Standing
from analysis.page import figure, table
from analysis.report.drawing import CROSS, DOT, RING, Panel, Range, around, drawing
from analysis.report.gather import Part
from analysis.report.numbers import ESTIMATE, between, headed, unit_name, written
from analysis.sessions.series import Quantity, Series, series
from analysis.sessions.trend import METHOD, TREND_FROM, Trend, trend
from stream.outputs import PitchRecord

_DRAWN = ("drive_peak_bw", "landing_peak_bw", "speed_mps")
_WIDTH, _HEIGHT = 720.0, 190.0
_PER = 10


def course_of(part: Part, code: str, own: Sequence[PitchRecord]) -> str:
    """Return the figure of one pitcher's session, or "" where nothing was measured."""
    made = [series(code, own, part.quantity(key)) for key in _DRAWN]
    if not any(len(one.values) for one in made):
        return ""
    last = float(len(own))
    panels = [_panel(part, i, one, last) for i, one in enumerate(made)]
    who = code or "nobody named"
    return figure(
        drawing(_WIDTH, _HEIGHT, panels),
        f"{who}: each pitch in order. Dot: as usual; ring: at the edge of the usual; cross: unlike "
        "the earlier ones in something (section 'Unlike the earlier pitches'). Line: trend, solid "
        "where its interval leaves out no change, else dashed; no line where there are too few "
        "pitches.",
    )


def trend_table(part: Part) -> str:
    """Return the table of trends of every pitcher and quantity."""
    rows = [
        _row(code, what, series(code, own, what, part.joins))
        for code, own in part.own.items()
        for what in part.quantities
    ]
    head = (
        "pitcher",
        "quantity",
        "pitches",
        f"change per {_PER} pitches",
        "95 % interval",
        "in words",
    )
    return table(f"Trend over the session ({METHOD})", head, [r for r in rows if r], (1, 5))


def _row(code: str, what: Quantity, made: Series) -> list[str]:
    count = len(made.values)
    if not count:
        return []
    line = trend(made.order, made.values)
    name = headed(what)
    if line is None:
        too_few = f"too few pitches (it takes {TREND_FROM})"
        return [code or "nobody named", name, str(count), "", "", too_few]
    return [
        code or "nobody named",
        name,
        str(count),
        written(what, _PER * line.slope, of_many=True),
        between(what, _PER * line.low, _PER * line.high),
        _in_words(line),
    ]


def _in_words(line: Trend) -> str:
    if not line.stands_out:
        return "no trend stands out"
    return "rose" if line.slope > 0 else "fell"


def _panel(part: Part, index: int, made: Series, last: float) -> Panel:
    width = _WIDTH / len(_DRAWN)
    what = made.quantity
    unit = unit_name(what.unit)
    panel = Panel(
        index * width,
        width,
        _HEIGHT,
        Range(0.0, last + 1.0),
        around(made.values, least=20.0 if what.unit == "% BW" else 1.0),
        f"{ESTIMATE if what.estimated else ''}{what.label}, {unit.replace('body weight', 'BW')}",
        "pitch number of this pitcher",
    )
    if not len(made.values):
        panel.words(0.5 * last, 0.5, "not measured", "middle")
        return panel
    standings = np.array([part.standing(int(n)) for n in made.numbers])
    for standing, shape in ((Standing.EDGE, RING), (Standing.APART, CROSS)):
        chosen = standings == standing
        panel.points(made.order[chosen], made.values[chosen], shape)
    usual = (standings != Standing.EDGE) & (standings != Standing.APART)
    panel.points(made.order[usual], made.values[usual], DOT, filled=True)
    line = trend(made.order, made.values)
    if line is not None:
        ends = np.array([made.order[0], made.order[-1]])
        heights = line.start + line.slope * ends
        panel.line(ends, heights, dash="" if line.stands_out else "5 4", width=1.2)
    return panel
