"""Numbers as a report writes them: SI, with as many digits as they deserve."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from analysis.sessions.clock import day_of
from analysis.sessions.series import Quantity

MISSING = "\N{EM DASH}"
_HYPHEN = re.compile(r"(?<![\w-])-(?=\d)")
_PER_CENT = re.compile(r"(\d)%")
#: Before every number that rests on an estimate.
ESTIMATE = "\N{ALMOST EQUAL TO}"
_MINUS = "\N{MINUS SIGN}"
#: Decimals of a single value and of what is worked out from many, by unit.
_DECIMALS: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        "% BW": (0, 1),
        "% BW/s": (0, 0),
        "N": (0, 1),
        "N s": (0, 1),
        "J": (0, 1),
        "m": (2, 3),
        "m/s": (2, 2),
        "s": (3, 3),
        "deg": (1, 1),
    }
)
_NAMES = {"% BW": "% body weight", "% BW/s": "% body weight/s", "deg": "°"}


def clock(at_ns: int | None) -> str:
    """Return the time of day (UTC) at ``at_ns``; MISSING where no clock told it."""
    at = day_of(at_ns)
    return MISSING if at is None else f"{at:%H:%M:%S}"


def typeset(words: str) -> str:
    """Return a sentence of the program with the minus and the per cent of a report's numbers."""
    return _PER_CENT.sub(r"\1 %", _HYPHEN.sub(_MINUS, words))


def unit_name(unit: str) -> str:
    """Return how a unit is written."""
    return _NAMES.get(unit, unit)


def written(what: Quantity, value: float | None, *, of_many: bool = False) -> str:
    """Return a value without its unit, marked where it is an estimate.

    What is worked out ``of_many`` pitches deserves a decimal more than one.
    """
    if value is None:
        return MISSING
    mark = ESTIMATE if what.estimated else ""
    return mark + _digits(what, value, of_many)


def _digits(what: Quantity, value: float, of_many: bool) -> str:
    if what.decimals is not None:
        decimals = what.decimals + of_many
    else:
        decimals = _DECIMALS.get(what.unit, (2, 2))[of_many]
    rounded = f"{value:.{decimals}f}"
    if float(rounded) == 0.0:
        rounded = rounded.lstrip("-")
    return rounded.replace("-", _MINUS)


def between(what: Quantity, low: float, high: float, *, of_many: bool = True) -> str:
    """Return an interval, marked once where it is of estimates."""
    return f"{written(what, low, of_many=of_many)} to {_digits(what, high, of_many)}"


def headed(what: Quantity) -> str:
    """Return a column's head: label and unit."""
    unit = unit_name(what.unit)
    return f"{what.label}, {unit}" if unit else what.label
