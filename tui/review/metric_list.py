"""All metrics and events of one pitch, beside the same pitcher's median; the definition of each."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from analysis.baseline import SPEED, value_of
from analysis.review.usual import spread, usual
from analysis.running import PitchRow
from stream.book import TYPED_SPEED
from stream.events import EVENTS
from stream.metrics import METRICS, metric
from stream.metrics.registry import Group
from stream.outputs import PitchRecord
from tui.review.flags import estimate_words, flags_words, missing_words
from tui.review.pitch_table import unit_words
from tui.safe_text import plain
from tui.units import MISSING, Units
from tui.widgets.headed_rows import Column
from tui.widgets.line_text import Runs
from tui.widgets.list_table import Entry
from tui.words import who

_EVENT = "event "
_NO_ROOM = "To compare, make the window wider."
_GROUPS = {
    Group.PUSH_OFF: "PUSH-OFF",
    Group.LANDING: "LANDING",
    Group.TIMING: "TIMING",
    Group.MOTION: "MOTION",
    Group.STRIDE: "STRIDE",
}
_VALUE, _UNIT = 7, 6
_MEDIAN, _SPREAD, _DIFFERENCE = 7, 6, 7
#: A metric whose name has no room goes by its short one; narrower, nothing is compared.
_LEAST_LABEL, _MOST_LABEL = 12, 34


@dataclass(frozen=True, slots=True)
class _Item:
    key: str
    label: str
    short: str
    unit: str
    unit_name: str
    value: float | None
    others: Sequence[float | None]
    missing: str
    estimated: bool


def metric_list(
    row: PitchRow, mates: Sequence[PitchRecord], units: Units, width: int
) -> tuple[list[Column], list[Entry]]:
    """Return columns and rows for ``row``; ``mates`` are the pitcher's pitches that count."""
    fixed = 4 + _VALUE + 1 + _UNIT + 1
    compared = _MEDIAN + _SPREAD + _DIFFERENCE + 3
    label = min(_MOST_LABEL, width - fixed - compared - 1)
    wide = label >= _LEAST_LABEL
    if not wide:
        label = min(_MOST_LABEL, max(_LEAST_LABEL, width - fixed))
    columns = [
        Column("", "", label, right=False),
        Column("this", "", _VALUE),
        Column("", "", _UNIT, right=False),
    ]
    if wide:
        columns.append(Column("median", f"of {len(mates)}", _MEDIAN))
        columns.append(Column("spread", "", _SPREAD))
        columns.append(Column("differs", "by", _DIFFERENCE))
    record = row.record
    entries: list[Entry] = []
    if not wide:
        entries.append(Entry(None, (), "quiet", f" {_NO_ROOM}"))
    speed = _Item(
        SPEED,
        "Ball speed" + (" (typed in)" if TYPED_SPEED in record.flags else ""),
        "ball" + (" (typed)" if TYPED_SPEED in record.flags else ""),
        "ball",
        unit_words(SPEED, units),
        record.speed_mps,
        [value_of(m, SPEED) for m in mates],
        "s enters it",
        False,
    )
    entries.append(_entry(speed, units, label, wide))
    for group, head in _GROUPS.items():
        entries.append(Entry(None, (), "bold", f" {head}"))
        for m in METRICS:
            if m.group is group:
                item = _Item(
                    m.key,
                    m.label,
                    m.short,
                    m.unit,
                    unit_words(m.key, units),
                    record.metrics.get(m.key),
                    [mate.metrics.get(m.key) for mate in mates],
                    missing_words(record, m),
                    m.key in record.estimated,
                )
                entries.append(_entry(item, units, label, wide))
    entries.append(Entry(None, (), "bold", " EVENTS, from foot contact"))
    for event in EVENTS:
        item = _Item(
            _EVENT + event.key,
            event.label,
            event.label,
            "s",
            "s",
            record.events_s.get(event.key),
            [mate.events_s.get(event.key) for mate in mates],
            "not found",
            False,
        )
        entries.append(_entry(item, units, label, wide))
    return columns, entries


def pitch_lines(row: PitchRow | None, units: Units, width: int) -> list[Runs]:
    """Return what is to be known of a pitch beside its numbers: who, weight, flags, note."""
    if row is None:
        return []
    r = row.record
    weight = units.quantity("N", r.body_weight_n)
    lines: list[Runs] = [
        [
            (f" PITCH {r.number}", "bold"),
            (f" · {who(r)} · body weight {weight}", "ink"),
        ]
    ]
    for words in flags_words(r):
        lines += _wrapped(f"! {words}", width, "ink")
    if r.estimated:
        count = len(r.estimated)
        estimates = "1 value is an estimate" if count == 1 else f"{count} values are estimates"
        lines += _wrapped(f"≈ {estimates}", width, "ink")
    if r.note:
        lines += _wrapped(f"Note: {plain(r.note, 400)}", width, "ink")
    return lines


def definition_lines(key: str, record: PitchRecord | None, width: int) -> list[Runs]:
    """Return the definition of the metric or event under the cursor, and its standing."""
    if key.startswith(_EVENT):
        event = next(e for e in EVENTS if _EVENT + e.key == key)
        return [[(f" {event.label}", "bold")], *_wrapped(event.definition, width, "ink")]
    if key == SPEED:
        text = "Speed of the ball as the ball-speed unit sent it, or as typed in."
        return [[(" Ball speed", "bold")], *_wrapped(text, width, "ink")]
    m = metric(key)
    lines: list[Runs] = [[(f" {m.label}", "bold"), (f"  {m.key}", "quiet")]]
    lines += _wrapped(m.definition, width, "ink")
    if record is not None and m.key in record.estimated:
        lines += _wrapped(f"≈ {estimate_words(m)}", width, "ink")
    if record is not None and record.metrics.get(m.key) is None:
        lines += _wrapped(f"Not measured: {missing_words(record, m)}.", width, "bold")
    lines += _wrapped(f"Source: {m.source}", width, "quiet")
    return lines


def as_cells(row: PitchRow) -> list[list[str]]:
    """Return every value of a pitch as cells, in SI units, headings first; missing ones empty."""
    r = row.record
    lines = [["pitch", "pitcher", "key", "label", "value", "unit", "state"]]
    head = [str(r.number), r.pitcher]

    def line(key: str, label: str, value: float | None, unit: str, why: str) -> list[str]:
        text = "" if value is None else f"{value:.7g}"
        return [*head, key, label, text, unit, why if value is None else ""]

    lines.append(line(SPEED, "Ball speed", r.speed_mps, "m/s", "no ball speed"))
    for m in METRICS:
        cells = line(m.key, m.label, r.metrics.get(m.key), m.unit, missing_words(r, m))
        cells[-1] = cells[-1] or ("estimate" if m.key in r.estimated else "")
        lines.append(cells)
    for e in EVENTS:
        lines.append(line(f"{e.key}_s", e.label, r.events_s.get(e.key), "s", "not found"))
    return lines


def _entry(item: _Item, units: Units, room: int, wide: bool) -> Entry:
    number = units.number(item.unit, item.value)
    if item.estimated and item.value is not None:
        number = f"≈{number}"
    if item.value is None:
        # The reason takes the place of what it would be compared with.
        text = f"{item.label}  {MISSING} not measured: {item.missing}"
        return Entry(item.key, (), "ink", text)
    cells = [item.label if len(item.label) <= room else item.short, number, item.unit_name]
    if wide:
        this = units.number(item.unit, item.value)
        median = units.number(item.unit, usual(item.others))
        apart = units.number(item.unit, spread(item.others))
        cells += [median, apart, _difference(this, median, units.decimal)]
    return Entry(item.key, tuple(cells))


def _difference(this: str, median: str, decimal: str) -> str:
    """Return the difference of two numbers as they are shown, so that it agrees with them."""
    if MISSING in (this, median):
        return MISSING
    a, b = (Decimal(text.replace(decimal, ".")) for text in (this, median))
    by = a - b
    return (f"{by:+f}" if by else f"{abs(by):f}").replace(".", decimal)


def _wrapped(text: str, width: int, style: str) -> list[Runs]:
    lines = textwrap.wrap(text, max(16, width - 2), subsequent_indent="  ")
    return [[(f" {line}", style)] for line in lines]
