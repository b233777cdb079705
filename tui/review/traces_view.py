"""From the desk to the curves: panels, marks, and the values at the cursor."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.curves import Component, Curves
from analysis.review.curve_sets import Band, band, leg_curves, value_at
from analysis.sessions.stored import StoredSession
from stream.events import EVENTS
from stream.outputs import PitchRecord, Traces
from tui.review.desk import SAME_MOMENT_S, Desk, Sitting, Span
from tui.units import MISSING, Units
from tui.widgets.axes import Mark
from tui.widgets.line_text import Runs
from tui.widgets.stacked_traces import Panel, Stack
from tui.words import EVENTS_BY_IMPORTANCE, who

NAMES = {
    Component.RESULTANT: "Resultant",
    Component.FORWARD: "Forward, home +",
    Component.VERTICAL: "Vertical",
    Component.SIDE: "Sideways, first base +",
}
_SHORT = {
    Component.RESULTANT: "resultant",
    Component.FORWARD: "forward",
    Component.VERTICAL: "vertical",
    Component.SIDE: "sideways",
}
SPANS = {
    Span.DELIVERY: "push-off to brake end",
    Span.LANDING: "around foot contact",
    Span.WHOLE: "whole movement",
}
#: Columns of the values at the cursor: name of the row, one leg's value, the same of one
#: component alone.
_NAME, _VALUE, _ALONE = 12, 6, 10
#: An event is named at the cursor within half a sample of 200 Hz.
_NEAR_S = 0.0026


@dataclass(frozen=True, slots=True)
class _Scale:
    """Newtons (divided by ``per``) or per cent of body weight, and the unit's name."""

    newtons: bool
    per: float
    unit: str


_BandKey = tuple[str, Component, _Scale]


class TracesView:
    """Builds what the curves' pane shows; keeps what a moved cursor does not change."""

    def __init__(self) -> None:
        self._sets: list[tuple[Component, Panel]] = []
        self._unit = ""
        self._record: PitchRecord | None = None
        self._bands: dict[_BandKey, Band | None] = {}
        self._bands_of: tuple[StoredSession, Mapping[int, Traces]] | None = None

    def stack(self, desk: Desk, units: Units) -> Stack | None:
        """Return the curves of the pitch that is looked at; None while there are none."""
        row, traces = desk.shown, desk.shown_traces
        self._sets = []
        if row is None or traces is None or traces.time_s.size < 2:
            return None
        record = self._record = row.record
        newtons = desk.newtons or record.body_weight_n is None
        per = units.read("N", "1") if newtons else 1.0
        self._unit = units.name("N") if newtons else "% body weight"
        components = list(Component) if desk.component is None else [desk.component]
        for component in components:
            panel = self._panel(desk, record, traces, component, _Scale(newtons, per, self._unit))
            self._sets.append((component, panel))
        title = [f"Pitch {record.number}", who(record), self._unit]
        found = self._sets[0][1].band
        if found is not None:
            title.append(f"mean ± SD of {found.count} pitches")
        title.append(SPANS[desk.span])
        span = time_range(record, traces, desk.span)
        marks = tuple(m for m in marks_of(record) if span[0] <= m.time_s <= span[1])
        return Stack(tuple(title), tuple(p for _, p in self._sets), marks, span)

    def _panel(
        self,
        desk: Desk,
        record: PitchRecord,
        traces: Traces,
        component: Component,
        scale: _Scale,
    ) -> Panel:
        sitting = desk.now
        others = []
        for number in sitting.marked:
            row, its = sitting.row(number), sitting.traces.get(number)
            if row is not None and its is not None and number != record.number:
                others.append((str(number), _drawn(row.record, its, component, scale)))
        return Panel(
            NAMES[component] if desk.component is None else f"{NAMES[component]}, {scale.unit}",
            _drawn(record, traces, component, scale),
            tuple(others),
            self._band(sitting, record, traces.rate_hz, component, scale) if desk.band else None,
        )

    def _band(
        self,
        sitting: Sitting,
        record: PitchRecord,
        rate_hz: float,
        component: Component,
        scale: _Scale,
    ) -> Band | None:
        """Return the band of the pitcher's pitches; it is the same for all of them."""
        given = self._bands_of
        if given is None or given[0] is not sitting.session or given[1] is not sitting.traces:
            self._bands.clear()
            self._bands_of = (sitting.session, sitting.traces)
        key = (record.pitcher, component, scale)
        if key not in self._bands:
            mates = [m for m in sitting.mates(record) if m.number in sitting.traces]
            sets = [_drawn(m, sitting.traces[m.number], component, scale) for m in mates]
            self._bands[key] = band(sets, rate_hz)
        return self._bands[key]

    def values(self, desk: Desk, units: Units, most_rows: int) -> list[Runs]:
        """Return the values at the cursor, a row a pitch, a pair of columns a component."""
        if not self._sets:
            return []
        moment = desk.moment_s
        near = _events_at(self._record, moment)
        at = f" At {units.number('s', moment)} s{near}"
        several = len(self._sets) > 1
        wide = _VALUE if several else _ALONE
        names = "".join(f"{_SHORT[c]:>{2 * wide}}" for c, _ in self._sets) if several else ""
        push, land = ("push", "land") if several else ("push-off", "landing")
        legs = f"{push:>{wide}}{land:>{wide}}" * len(self._sets)
        lines: list[Runs] = [
            [(f"{at:<{_NAME}}"[:200], "bold"), (f" · {self._unit}", "quiet")],
        ]
        if names:
            lines.append([(" " * _NAME + names, "quiet")])
        lines.append([(" " * _NAME + legs, "quiet")])
        number = desk.shown.record.number if desk.shown else 0
        mine = [p.curves for _, p in self._sets]
        lines.append(_line(f"pitch {number}", mine, moment, units, "bold", wide))
        for index, (label, _) in enumerate(self._sets[0][1].others):
            others = [p.others[index][1] for _, p in self._sets]
            lines.append(_line(f"pitch {label}", others, moment, units, "ink", wide))
        bands = [p.band for _, p in self._sets]
        known = [b for b in bands if b is not None]
        if len(known) == len(bands):
            means = [Curves(b.time_s, b.drive, b.lead, "") for b in known]
            spreads = [Curves(b.time_s, b.drive_sd, b.lead_sd, "") for b in known]
            lines.append(_line(f"mean of {known[0].count}", means, moment, units, "quiet", wide))
            lines.append(_line("SD", spreads, moment, units, "quiet", wide))
        return lines[:most_rows]

    def as_cells(self) -> list[list[str]]:
        """Return the curves that are drawn as cells, a row a sample, headings first."""
        if not self._sets or self._record is None:
            return []
        unit = self._unit.replace("% body weight", "bw").lower()
        head = ["pitch", "time_s"]
        for component, _ in self._sets:
            head += [f"drive_{component.value}_{unit}", f"lead_{component.value}_{unit}"]
        lines = [head]
        for index, moment in enumerate(self._sets[0][1].curves.time_s):
            cells = [str(self._record.number), f"{moment:.6f}"]
            for _, panel in self._sets:
                for values in (panel.curves.drive, panel.curves.lead):
                    value = float(values[index])
                    cells.append("" if math.isnan(value) else f"{value:.6g}")
            lines.append(cells)
        return lines


def empty_words(sitting: Sitting, units: Units) -> tuple[str, ...]:
    """Return why there are no curves, and what to do."""
    if not sitting.pitches:
        return ("This session has no pitch.",)
    if sitting.trouble:
        return ("No curves: " + sitting.trouble, "The table and all values are there without.")
    if sitting.share is not None:
        done = units.number("", 100.0 * sitting.share, 0)
        return (f"Curves come when the recordings have been read: {done} %.", "Esc stops reading.")
    if not sitting.session.recordings:
        return ("No curves: this folder holds no recording.", "The table and all values are there.")
    if not sitting.measured:
        return ("The recordings have not been read for curves.", "Press g to read them.")
    return ("This pitch is not in the recordings.", "Its stored values are in the table.")


def marks_of(record: PitchRecord) -> list[Mark]:
    """Return the events of a pitch in order of importance."""
    labels = {e.key: e.label.lower() for e in EVENTS}
    times = ((key, record.events_s.get(key)) for key in EVENTS_BY_IMPORTANCE)
    return [Mark(labels[key], t) for key, t in times if t is not None]


def time_range(record: PitchRecord, traces: Traces, span: Span) -> tuple[float, float]:
    """Return the first and last moment that is shown, s from foot contact."""
    first, last = float(traces.time_s[0]), float(traces.time_s[-1])
    onset, end = record.events_s.get("drive_onset"), record.events_s.get("brake_end")
    if span is Span.LANDING:
        low, high = -0.15, 0.35
    elif span is Span.DELIVERY:
        low = -1.0 if onset is None else onset - 0.15
        high = 0.5 if end is None else end + 0.2
    else:
        return first, last
    low, high = max(first, low), min(last, high)
    return (low, high) if high - low > 0.1 else (first, last)


def _drawn(record: PitchRecord, traces: Traces, component: Component, scale: _Scale) -> Curves:
    c = leg_curves(record, traces, component, newtons=scale.newtons)
    return Curves(c.time_s, c.drive / scale.per, c.lead / scale.per, c.unit)


def _line(
    name: str, sets: Sequence[Curves], moment: float, units: Units, style: str, wide: int
) -> list[tuple[str, str]]:
    cells = []
    for c in sets:
        for values in (c.drive, c.lead):
            value = value_at(c.time_s, values, moment)
            cells.append(f"{MISSING if value is None else units.number('', value, 0):>{wide}}")
    return [(f" {name:<{_NAME - 1}}", style), ("".join(cells), style)]


def _events_at(record: PitchRecord | None, moment: float) -> str:
    """Return the event nearest to ``moment``, all where several share its time; "" for none."""
    if record is None:
        return ""
    times = [(e.label.lower(), t) for e in EVENTS if (t := record.events_s.get(e.key)) is not None]
    least = min((abs(t - moment) for _, t in times), default=math.inf)
    if least > _NEAR_S:
        return ""
    here = [name for name, t in times if abs(t - moment) - least < SAME_MOMENT_S]
    return ", " + " and ".join(here)
