"""One quantity of one pitcher over his pitches, voided ones left out but counted as thrown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from analysis.baseline import SPEED, value_of
from analysis.running import is_void
from stream.layout import Array
from stream.metrics import METRICS
from stream.outputs import PitchRecord

#: Values that a joined file gives: pitch number -> column -> value.
Joins = Mapping[int, Mapping[str, float]]
NOTHING_JOINED: Joins = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a column of numbers is: a metric, the ball speed, or a joined file's column.

    ``estimated``: the numbers rest on an estimate in the pitches told of.
    ``decimals`` of a single value, where the unit does not tell them.
    """

    key: str
    label: str
    unit: str
    definition: str
    joined: bool = False
    estimated: bool = False
    decimals: int | None = None


_KNOWN = {
    SPEED: Quantity(SPEED, "Ball speed", "m/s", "Speed of the ball as received or typed in."),
    **{m.key: Quantity(m.key, m.label, m.unit, m.definition) for m in METRICS},
}


def quantity(key: str) -> Quantity:
    """Return the quantity with ``key``: a metric's, or ``speed_mps``; raise KeyError."""
    return _KNOWN[key]


def told_of(what: Quantity, records: Iterable[PitchRecord]) -> Quantity:
    """Return ``what`` as it is of ``records``: estimated where it is in any of them."""
    if what.joined or not any(what.key in record.estimated for record in records):
        return what
    return replace(what, estimated=True)


@dataclass(frozen=True, eq=False)
class Series:
    """``values`` (n,) in the quantity's unit, of pitches ``numbers`` (n,).

    ``order`` (n,) counts the pitcher's own pitches from 1, voided and
    unmeasured ones too: they were thrown.
    """

    pitcher: str
    quantity: Quantity
    order: Array
    numbers: Array
    values: Array


def pitchers_of(records: Sequence[PitchRecord]) -> tuple[str, ...]:
    """Return the pitchers' codes in the order in which they first threw."""
    return tuple(dict.fromkeys(r.pitcher for r in records))


def by_pitcher(records: Sequence[PitchRecord]) -> dict[str, list[PitchRecord]]:
    """Return each pitcher's pitches, in order."""
    found: dict[str, list[PitchRecord]] = {}
    for record in records:
        found.setdefault(record.pitcher, []).append(record)
    return found


def series(
    pitcher: str, own: Sequence[PitchRecord], what: Quantity, joins: Joins = NOTHING_JOINED
) -> Series:
    """Return the series of ``what`` over the ``own`` pitches of one pitcher."""
    rows = []
    for order, record in enumerate(own, start=1):
        value = value_in(record, what, joins)
        if value is not None and not is_void(record):
            rows.append((order, record.number, value))
    columns = np.array(rows, dtype=float).reshape(-1, 3).T
    return Series(pitcher, what, columns[0], columns[1], columns[2])


def value_in(record: PitchRecord, what: Quantity, joins: Joins = NOTHING_JOINED) -> float | None:
    """Return the value of ``what`` for one pitch, None where there is none."""
    if what.joined:
        return joins.get(record.number, {}).get(what.key)
    return value_of(record, what.key)
