"""The table of pitches: the columns that fit, a row a pitch, the same as text for a file."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.baseline import SPEED, Standing, value_of
from analysis.review.selection import NUMBER, PITCHER
from analysis.running import NotCountedRow, PitchRow
from stream.metrics import metric
from tui.review.desk import Desk
from tui.safe_text import plain
from tui.table import SHORT_UNITS, unit_of
from tui.units import Units
from tui.widgets.headed_rows import Column
from tui.widgets.list_table import Entry
from tui.words import STANDING, not_counted_words

_SIGNS = 3
_NUMBER = 4
_PITCHER = 6
_STATE = 8
_LEAST_NOTE = 14
_MOST_NOTE = 40
#: Headings of columns whose unit stands below, where the registry's own name says it too.
_HEADS = {
    SPEED: "ball",
    "drive_peak_n": "push",
    "landing_peak_n": "land",
    "drive_forward_bw": "fwd",
    "drive_angle_deg": "push ang",
    "landing_angle_deg": "land ang",
    "forward_speed_mps": "body",
}
#: Widths by unit: the widest number that occurs with a sign, and the unit's own name.
_WIDTHS = {"% BW/s": 7, "N": 6, "N s": 6, "m/s": 6, "ball": 6, "J": 6}


def head_of(key: str) -> str:
    """Return the short heading of a metric's column."""
    return _HEADS.get(key) or metric(key).short


def label_of(key: str) -> str:
    """Return the full name of a metric."""
    return "Ball speed" if key == SPEED else metric(key).label


def unit_words(key: str, units: Units) -> str:
    """Return the unit of a metric, short."""
    unit = unit_of(key)
    return SHORT_UNITS.get(unit) or units.name(unit).replace("% body weight", "%BW")


def pitch_table(desk: Desk, units: Units, width: int) -> tuple[list[Column], list[Entry], int]:
    """Return columns, rows, and how many chosen columns did not fit into ``width`` cells."""
    rows = desk.rows
    room = width - 1 - _SIGNS - (_NUMBER + 1) - (_PITCHER + 1) - (_STATE + 1)
    keys: list[str] = []
    columns: list[Column] = []
    for key in desk.columns:
        head, unit = head_of(key), unit_words(key, units)
        wide = max(len(head) + 1, len(unit), _WIDTHS.get(unit_of(key), 5))
        if wide + 1 > room:
            break
        room -= wide + 1
        keys.append(key)
        columns.append(Column(_sorted(desk, key, head), unit, wide))
    note = min(room - 1, _MOST_NOTE) if room > _LEAST_NOTE else 0
    all_columns = [
        Column(_sorted(desk, NUMBER, "#"), "", _NUMBER),
        Column(_sorted(desk, PITCHER, "who"), "", _PITCHER, right=False),
        *columns,
        Column("like", "others", _STATE, right=False),
        *([Column("note", "", note, right=False)] if note else []),
    ]
    marked = desk.now.marked
    entries = [
        _entry(row, keys, units, bool(note), marked)
        if isinstance(row, PitchRow)
        else _not_counted(row)
        for row in rows
    ]
    return all_columns, entries, len(desk.columns) - len(keys)


def column_key(desk: Desk, column: int, shown: int) -> str | None:
    """Return what a click on a heading sorts by; ``shown`` metric columns are in sight."""
    if column == 0:
        return NUMBER
    if column == 1:
        return PITCHER
    return desk.columns[column - 2] if column - 2 < shown else None


def as_cells(desk: Desk) -> list[list[str]]:
    """Return the selected pitches with all chosen columns as cells, in SI units, headings first.

    Numbers have a point and no rounding but the seventh digit; what was not
    measured is empty.
    """
    head = ["session", "number", "pitcher", "throws", "state", *desk.columns]
    lines = [[*head, "flags", "note"]]
    for row in desk.rows:
        if not isinstance(row, PitchRow):
            continue
        r = row.record
        values = [value_of(r, key) for key in desk.columns]
        lines.append(
            [
                desk.now.name,
                str(r.number),
                r.pitcher,
                r.throws or "",
                "void" if row.void else row.standing.value,
                *("" if v is None else f"{v:.7g}" for v in values),
                " ".join(r.flags),
                r.note,
            ]
        )
    return lines


def _entry(
    row: PitchRow, keys: Sequence[str], units: Units, notes: bool, marked: Sequence[int]
) -> Entry:
    r = row.record
    sign, word = ("✖", "void") if row.void else STANDING[row.standing]
    cells = [str(r.number), plain(r.pitcher, 24) or "-"]
    for key in keys:
        text = units.number(unit_of(key), value_of(r, key))
        cells.append(f"≈{text}" if key in r.estimated else text)
    cells.append(f"{sign} {word}")
    if notes:
        cells.append(plain(r.note, 100))
    style = "void" if row.void else "apart" if row.standing is Standing.APART else "ink"
    mark = ("+" if r.number in marked else " ") + ("*" if r.note else "")
    return Entry(str(r.number), tuple(cells), style, mark=mark)


def _not_counted(row: NotCountedRow) -> Entry:
    return Entry(None, (), "quiet", f"   ✖ not counted: {not_counted_words(row.record)}")


def _sorted(desk: Desk, key: str, head: str) -> str:
    if desk.order.key != key:
        return head
    return f"{head}{'▼' if desk.order.falling else '▲'}"
