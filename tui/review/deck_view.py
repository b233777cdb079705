"""From the desk to the pressure paths: both feet on the deck, and each close up."""

from __future__ import annotations

from enum import StrEnum
from itertools import chain

import numpy as np

from analysis.review.curve_sets import place_at
from stream.outputs import Array, PitchRecord, Traces
from tui.review.desk import Desk
from tui.units import MISSING, Units
from tui.widgets.line_text import Runs
from tui.widgets.pressure_path import FootPath, Pressure, close_up, deck_area

#: Signs on the paths: event, sign; round ones for the push-off foot, square for the landing foot.
DRIVE_SIGNS = (("first_move", "○"), ("drive_onset", "◔"), ("drive_peak", "●"))
LEAD_SIGNS = (("foot_plant", "□"), ("landing_peak", "■"), ("brake_end", "▣"))
_LABELS = {
    "first_move": "first move",
    "drive_onset": "begins",
    "drive_peak": "peak",
    "foot_plant": "plant",
    "landing_peak": "peak",
    "brake_end": "brake end",
}


#: From this width on the legend needs few lines.
_WIDE_LEGEND = 66


class Seen(StrEnum):
    """What a view of the deck shows."""

    DECK = "deck"
    DRIVE = "drive"
    LEAD = "lead"


def pressure(desk: Desk, seen: Seen) -> Pressure | None:
    """Return the paths of the pitch that is looked at; None while there are none."""
    row, traces = desk.shown, desk.shown_traces
    layout = desk.now.session.layout
    if row is None or traces is None:
        return None
    drive, lead = _paths(row.record, traces)
    now = tuple(
        place
        for places in (traces.drive_cop, traces.lead_cop)
        if (place := place_at(traces.time_s, places, desk.moment_s)) is not None
    )
    laid_over = [
        (other.record, its)
        for number in desk.now.marked
        if number != row.record.number
        and (other := desk.now.row(number)) is not None
        and (its := desk.now.traces.get(number)) is not None
    ]
    others = [tuple(_faint(p, r) for p in _paths(r, its)) for r, its in laid_over]
    over = "; faint " + ", ".join(str(r.number) for r, _ in laid_over) if laid_over else ""
    if seen is Seen.DECK:
        title = f"Centre of pressure, pitch {row.record.number}{over}"
        if not layout.measures_moments or "stride_m" in row.record.estimated:
            title += ", places are estimates"
        return Pressure(title, deck_area(layout), (*chain(*others), drive, lead), now)
    leg, title = (0, "Push-off foot") if seen is Seen.DRIVE else (1, "Landing foot")
    paths = (*(pair[leg] for pair in others), (drive, lead)[leg])
    area = close_up(np.vstack([p.points for p in paths]))
    return None if area is None else Pressure(title, area, paths, now)


def legend_lines(desk: Desk, units: Units, width: int) -> list[Runs]:
    """Return what the signs mean, and where the feet press at the cursor's moment."""
    traces = desk.shown_traces
    if traces is None:
        return []
    at = f" ✚ at {units.number('s', desk.moment_s)} s (home, first base)"
    if width >= _WIDE_LEGEND:
        return [
            [(" push-off foot  ", "drive"), (_signs(DRIVE_SIGNS), "ink")],
            [(" landing foot   ", "lead"), (_signs(LEAD_SIGNS), "ink")],
            [
                (at, "bold"),
                ("  push-off ", "quiet"),
                (_place(traces, traces.drive_cop, desk, units), "ink"),
            ],
            [
                (" " * len(at), "ink"),
                ("  landing  ", "quiet"),
                (_place(traces, traces.lead_cop, desk, units), "ink"),
            ],
        ]
    return [
        [(" push-off foot", "drive"), (", thin line", "quiet")],
        [("   " + _signs(DRIVE_SIGNS), "ink")],
        [(" landing foot", "lead"), (", thick line", "quiet")],
        [("   " + _signs(LEAD_SIGNS), "ink")],
        [(at, "bold")],
        [("   push-off ", "quiet"), (_place(traces, traces.drive_cop, desk, units), "ink")],
        [("   landing  ", "quiet"), (_place(traces, traces.lead_cop, desk, units), "ink")],
    ]


def _signs(pairs: tuple[tuple[str, str], ...]) -> str:
    return "  ".join(f"{sign} {_LABELS[event]}" for event, sign in pairs)


def _place(traces: Traces, places: Array, desk: Desk, units: Units) -> str:
    at = place_at(traces.time_s, places, desk.moment_s)
    if at is None:
        return f"{MISSING} carries too little"
    x, y = (units.number("m", v) for v in at)
    return f"{x}, {y} {units.name('m')}"


def _paths(record: PitchRecord, traces: Traces) -> tuple[FootPath, FootPath]:
    events = record.events_s
    pushing = events.get("first_move"), events.get("drive_toe_off")
    landing = events.get("foot_contact"), events.get("brake_end")
    drive = _between(traces, traces.drive_cop, *pushing)
    lead = _between(traces, traces.lead_cop, *landing)
    return (
        FootPath("push-off foot", "drive", drive, _marks(record, traces, "drive")),
        FootPath("landing foot", "lead", lead, _marks(record, traces, "lead"), thick=True),
    )


def _faint(path: FootPath, record: PitchRecord) -> FootPath:
    """Return another pitch's path, which carries its number."""
    return FootPath(str(record.number), "quiet", path.points, faint=True)


def _marks(
    record: PitchRecord, traces: Traces, foot: str
) -> tuple[tuple[str, tuple[float, float]], ...]:
    signs, places = (
        (DRIVE_SIGNS, traces.drive_cop) if foot == "drive" else (LEAD_SIGNS, traces.lead_cop)
    )
    found = []
    for event, sign in signs:
        at = record.events_s.get(event)
        place = None if at is None else place_at(traces.time_s, places, at)
        if place is not None:
            found.append((sign, place))
    return tuple(found)


def _between(traces: Traces, places: Array, first: float | None, last: float | None) -> Array:
    low = -np.inf if first is None else first
    high = np.inf if last is None else last
    inside = (traces.time_s >= low) & (traces.time_s <= high)
    return places[inside]
