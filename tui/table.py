"""The session table: which columns there is room for, and what stands in each row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analysis.baseline import SPEED, Standing, value_of
from analysis.running import NotCountedRow, PitchRow, is_void
from stream.metrics import metric
from tui.board import Board
from tui.safe_text import plain
from tui.units import ESTIMATE, Units
from tui.widgets.headed_rows import Column
from tui.widgets.session_table import Line
from tui.words import STANDING, not_counted_words

#: Columns of the session table: metric, heading, width, in the order in which room is given.
_COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("drive_peak_bw", "push", 4),
    ("landing_peak_bw", "land", 4),
    (SPEED, "ball", 5),
    ("landing_braking_bw", "brake", 5),
    ("drive_forward_bw", "fwd", 5),
    ("forward_speed_mps", "body", 5),
    ("stride_m", "stride", 6),
    ("drive_time_s", "push t", 6),
    ("landing_time_to_peak_s", "peak t", 6),
)
_NUMBER, _WHO = Column("#", "", 3), Column("who", "", 5, right=False)
_WHO_MOST = 24
_LIKE = Column("like", "", 8, right=False)
_NOTE_WIDTH = 12
#: Units that are written shorter in a heading.
SHORT_UNITS = {"% BW": "%BW"}


def table(board: Board, units: Units, width: int) -> tuple[list[Column], list[Line]]:
    """Return the columns that fit into ``width`` cells and the rows, newest first."""
    room = width - 3 - sum(c.width + 1 for c in (_NUMBER, _WHO, _LIKE))
    keys: list[tuple[str, Column]] = []
    for key, head, wide in _COLUMNS:
        if wide + 1 > room and len(keys) >= 3:
            break
        room -= wide + 1
        unit = unit_of(key)
        keys.append((key, Column(head, SHORT_UNITS.get(unit, units.name(unit)), wide)))
    longest = max((len(_code(r)) for r in board.rows if isinstance(r, PitchRow)), default=0)
    wider = max(0, min(longest - _WHO.width, room))
    room -= wider
    who = replace(_WHO, width=_WHO.width + wider)
    columns = [_NUMBER, who, *(c for _, c in keys), _LIKE]
    notes = room > _NOTE_WIDTH
    if notes:
        columns.append(Column("note", "", room - 1, right=False))
    lines = [
        _pitch_line(row, who.width, [k for k, _ in keys], units, notes)
        if isinstance(row, PitchRow)
        else _other_line(row)
        for row in reversed(board.rows)
    ]
    return columns, lines


def _code(row: PitchRow) -> str:
    return plain(row.record.pitcher, _WHO_MOST) or "-"


def _pitch_line(
    row: PitchRow, who_width: int, keys: Sequence[str], units: Units, notes: bool
) -> Line:
    record = row.record
    void = is_void(record)
    sign, word = ("✖", "void") if void else STANDING[row.standing]
    code = _code(row)
    if len(code) > who_width:
        code = code[: who_width - 1] + "…"
    cells = [str(record.number), code]
    for key in keys:
        text = units.number(unit_of(key), value_of(record, key))
        cells.append(f"{ESTIMATE}{text}" if key in record.estimated else text)
    cells.append(f"{sign} {word}")
    if notes:
        cells.append(plain(record.note, 100))
    style = "void" if void else "apart" if row.standing is Standing.APART else "ink"
    return Line(record.number, tuple(cells), style)


def _other_line(row: NotCountedRow) -> Line:
    return Line(None, (), "quiet", f"  ✖ not counted: {not_counted_words(row.record)}")


def unit_of(key: str) -> str:
    """Return the unit key of a metric."""
    return "ball" if key == SPEED else metric(key).unit
