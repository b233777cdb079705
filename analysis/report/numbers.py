"""Numbers as a report writes them: SI, with as many digits as they deserve."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from analysis.sessions.clock import day_of
from analysis.sessions.series import Quantity

MISSING = "\N{EM DASH}"
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


def unit_name(unit: str) -> str:
    """Return how a unit is written."""
    return _NAMES.get(unit, unit)


def written(what: Quantity, value: float | None, *, of_many: bool = False) -> str:
    """Return a value without its unit; ``of_many`` pitches deserve a decimal more than one."""
    if value is None:
        return MISSING
    if what.joined and not what.unit:
        return f"{value:.4g}".replace("-", _MINUS)
    rounded = f"{value:.{_DECIMALS.get(what.unit, (2, 2))[of_many]}f}"
    if float(rounded) == 0.0:
        rounded = rounded.lstrip("-")
    return rounded.replace("-", _MINUS)


def between(what: Quantity, low: float, high: float) -> str:
    """Return an interval."""
    return f"{written(what, low, of_many=True)} to {written(what, high, of_many=True)}"


def headed(what: Quantity) -> str:
    """Return a column's head: label and unit."""
    unit = unit_name(what.unit)
    return f"{what.label}, {unit}" if unit else what.label
