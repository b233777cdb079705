"""A file of other measurements (ball speed, joint moments, timings) joined to a session's pitches.

CSV with a header, comma or semicolon between cells. A row finds its pitch by
``pitch`` (its number), or else by ``time`` (ISO 8601 with a zone, or seconds
since 1970 UTC): the nearest foot contact within ``WITHIN_S``. ``pitcher``
(a code), if there, must be the pitch's. ``speed_mps`` or ``speed_mph`` is
ball speed; every other column of numbers is taken under its own name. What
finds no partner is listed on both sides, rows with the reason.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from analysis.sessions.join_file import SPEED, JoinRow, JoinTable
from analysis.sessions.series import Quantity

_FIGURES = 3
#: Farthest that a row's time may be from a foot contact (common practice, no source).
WITHIN_S = 2.0


@dataclass(frozen=True, slots=True)
class Target:
    """A pitch to be joined to; ``at_ns`` is its foot contact by the recording computer's clock."""

    number: int
    pitcher: str
    at_ns: int | None = None


@dataclass(frozen=True)
class Joined:
    """Values by pitch number, and what stayed alone: rows (line and reason), pitches."""

    name: str
    by: str
    quantities: tuple[Quantity, ...]
    values: Mapping[int, Mapping[str, float]]
    rows_alone: tuple[tuple[int, str], ...]
    pitches_alone: tuple[int, ...]
    sentences: tuple[str, ...]


Alone = list[tuple[int, str]]
Found = list[tuple[Target, JoinRow]]


def join(table: JoinTable, targets: Sequence[Target]) -> Joined:
    """Find a pitch for every row of ``table``."""
    alone: Alone = []
    match = _by_number if table.by == "pitch" else _by_time
    kept = []
    for target, row in match(table.rows, targets, alone):
        if row.pitcher in ("", target.pitcher):
            kept.append((target, row))
        else:
            alone.append((row.line, f"it says pitcher {row.pitcher}, not {target.pitcher}"))
    values = {target.number: row.values for target, row in kept}
    return Joined(
        name=table.name,
        by=table.by,
        quantities=tuple(_quantity(column, table) for column in table.columns),
        values=values,
        rows_alone=tuple(sorted(alone)),
        pitches_alone=tuple(t.number for t in targets if t.number not in values),
        sentences=(*table.sentences, *_clocks(table, kept)),
    )


def _by_number(rows: Sequence[JoinRow], targets: Sequence[Target], alone: Alone) -> Found:
    by_number = {t.number: t for t in targets}
    claims: dict[int | None, list[JoinRow]] = {}
    for row in rows:
        claims.setdefault(row.pitch, []).append(row)
    found: Found = []
    for number, claiming in claims.items():
        if number is None:
            alone += [(row.line, "it gives no pitch number") for row in claiming]
        elif number not in by_number:
            alone += [(row.line, f"there is no pitch {number}") for row in claiming]
        elif len(claiming) > 1:
            alone += [(row.line, f"{len(claiming)} rows say pitch {number}") for row in claiming]
        else:
            found.append((by_number[number], claiming[0]))
    return found


def _by_time(rows: Sequence[JoinRow], targets: Sequence[Target], alone: Alone) -> Found:
    timed = sorted((t.at_ns, i) for i, t in enumerate(targets) if t.at_ns is not None)
    nearest: dict[int, tuple[int, JoinRow]] = {}
    for row in rows:
        if row.at_ns is None:
            alone.append((row.line, "it gives no time that can be read (ISO 8601 with a zone?)"))
            continue
        place = bisect_left(timed, (row.at_ns, 0))
        beside = [(abs(row.at_ns - ns), i) for ns, i in timed[max(place - 1, 0) : place + 1]]
        away, index = min(beside, default=(0, -1))
        if index < 0 or away > WITHIN_S * 1e9:
            alone.append((row.line, f"no foot contact within {WITHIN_S:g} s of it"))
            continue
        number = targets[index].number
        rival = nearest.get(index)
        if rival is not None:
            farther = row if away >= rival[0] else rival[1]
            alone.append((farther.line, f"another row lies nearer to pitch {number}"))
        if rival is None or away < rival[0]:
            nearest[index] = (away, row)
    return [(targets[index], row) for index, (_, row) in nearest.items()]


def _clocks(table: JoinTable, kept: Found) -> list[str]:
    if table.by != "time":
        return []
    apart = [(row.at_ns - t.at_ns) / 1e9 for t, row in kept if row.at_ns and t.at_ns]
    if not apart:
        return ["No row lies near a pitch: do the two clocks agree?"]
    return [f"The file's times lie {median(apart):+.2f} s from foot contact (median)."]


def _quantity(column: str, table: JoinTable) -> Quantity:
    name = table.name
    if column == SPEED:
        return Quantity(SPEED, "Ball speed (file)", "m/s", f"Ball speed in {name}", joined=True)
    values = [row.values[column] for row in table.rows if column in row.values]
    return Quantity(
        column, column, "", f"Column {column} of {name}", joined=True, decimals=_decimals(values)
    )


def _decimals(values: Sequence[float]) -> int:
    """Return one number of decimals for a column: as the file has them, at most three figures."""
    greatest = max((abs(value) for value in values), default=0.0)
    size = math.floor(math.log10(greatest)) if greatest > 0.0 else 0
    most = min(max(_FIGURES - 1 - size, 0), 9)
    return next((d for d in range(most) if all(round(v, d) == v for v in values)), most)
