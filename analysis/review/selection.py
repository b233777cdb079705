"""Which pitches of a session are looked at, and in what order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.baseline import Standing, value_of
from analysis.running import NotCountedRow, PitchRow, Row
from stream.book import TYPED_SPEED, VOID
from stream.outputs import PitchRecord

#: Order by what is no metric.
NUMBER = "number"
PITCHER = "pitcher"
#: Flags that say what somebody did, not what could not be measured.
_DEEDS = frozenset({VOID, TYPED_SPEED})


class Which(StrEnum):
    """Which pitches, whoever threw them."""

    ALL = "all"
    COUNTED = "counted"
    VOID = "void"
    UNLIKE = "unlike"
    INCOMPLETE = "incomplete"
    NOTED = "noted"


_TESTS: dict[Which, Callable[[PitchRow], bool]] = {
    Which.ALL: lambda row: True,
    Which.COUNTED: lambda row: not row.void,
    Which.VOID: lambda row: row.void,
    Which.UNLIKE: lambda row: row.standing in (Standing.EDGE, Standing.APART) and not row.void,
    Which.INCOMPLETE: lambda row: incomplete(row.record),
    Which.NOTED: lambda row: bool(row.record.note),
}


@dataclass(frozen=True, slots=True)
class Selection:
    """What is looked at; ``pitcher`` None stands for everybody ("" is nobody named)."""

    pitcher: str | None = None
    which: Which = Which.ALL

    def holds(self, row: PitchRow) -> bool:
        """Tell whether ``row`` is looked at."""
        wanted = self.pitcher is None or row.record.pitcher == self.pitcher
        return wanted and _TESTS[self.which](row)


@dataclass(frozen=True, slots=True)
class Order:
    """By number, pitcher or a metric's key; ``falling`` is from the greatest down."""

    key: str = NUMBER
    falling: bool = False


def incomplete(record: PitchRecord) -> bool:
    """Tell whether something of a pitch could not be measured, or is doubtful."""
    return bool(set(record.flags) - _DEEDS)


def selected(rows: Iterable[Row], selection: Selection, order: Order) -> list[Row]:
    """Return the rows that are looked at, in order.

    Movements not counted belong to nobody; they show among all pitches of
    everybody, and only in the order in which things happened. A pitch
    without the value that is ordered by stands last either way.
    """
    rows = list(rows)
    if order.key == NUMBER:
        everything = selection == Selection()
        kept = [
            row
            for row in rows
            if (everything if isinstance(row, NotCountedRow) else selection.holds(row))
        ]
        return kept[::-1] if order.falling else kept
    pitches = [row for row in rows if isinstance(row, PitchRow) and selection.holds(row)]
    return [*_ordered(pitches, order)]


def _ordered(pitches: Sequence[PitchRow], order: Order) -> list[PitchRow]:
    if order.key == PITCHER:
        return sorted(pitches, key=lambda p: p.record.pitcher, reverse=order.falling)
    known: list[tuple[float, PitchRow]] = []
    unknown: list[PitchRow] = []
    for row in pitches:
        value = value_of(row.record, order.key)
        if value is None:
            unknown.append(row)
        else:
            known.append((value, row))
    known.sort(key=lambda item: item[0], reverse=order.falling)
    return [*(row for _, row in known), *unknown]
