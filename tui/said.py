"""Sentences of the core in the units shown: it says everything in SI, as records and files do.

Only numbers with a unit behind them are written anew; names, shares and times stay.
Factors: NIST SP 811 (2008), appendix B.8.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType

from tui.units import FOOT_M, FT_LBF_J, LB_KG, LBF_N, System, Units

#: What is written for an SI unit, and how much of the SI unit one of it is. A kilogram is
#: written as a mass is everywhere else.
_US: Mapping[str, tuple[str, float]] = MappingProxyType(
    {
        "N": ("lbf", LBF_N),
        "N/s": ("lbf/s", LBF_N),
        "N s": ("lbf s", LBF_N),
        "N m": ("ft lbf", FT_LBF_J),
        "N m/s": ("ft lbf/s", FT_LBF_J),
        "kg": ("lb", LB_KG),
        "m": ("ft", FOOT_M),
        "m/s": ("ft/s", FOOT_M),
        "mm": ("in", 1000.0 * FOOT_M / 12.0),
    }
)
#: A unit, the longest name first, and nothing behind it that would make it another.
_UNIT = "|".join(sorted(map(re.escape, _US), key=len, reverse=True))
_NUMBER = r"[-+\N{MINUS SIGN}]?\d[\d,]*(?:\.\d+)?"
_QUANTITY = re.compile(rf"(?<![\w.])({_NUMBER})([ \N{{NO-BREAK SPACE}}])({_UNIT})(?![\w/²^])")
#: A place: one unit behind both its numbers.
_PLACE = re.compile(rf"\bx ({_NUMBER}), y ({_NUMBER}) m\b(?![/²^])")
#: A body weight is said in both units at once.
_BOTH = re.compile(rf"({_NUMBER} N) \(({_NUMBER} lbf)\)")
_LEAST_DIGITS = 2


def in_units(text: str, units: Units) -> str:
    """Return a sentence of the core with its quantities in the units shown."""
    text = _BOTH.sub(r"\2" if units.system is System.US else r"\1", text)
    text = _PLACE.sub(lambda m: _place(m[1], m[2], units), text)
    return _QUANTITY.sub(lambda m: _quantity(m[1], m[2], m[3], units), text)


def _place(x: str, y: str, units: Units) -> str:
    name, per = _US["m"] if units.system is System.US else ("m", 1.0)
    return f"x {_written(x, per, units)}, y {_written(y, per, units)} {name}"


def _quantity(number: str, space: str, unit: str, units: Units) -> str:
    name, per = _US[unit] if units.system is System.US else (unit, 1.0)
    if name == "lb":
        return mass_words(_value(number), units)
    return f"{_written(number, per, units)}{space}{name}"


def _written(number: str, per: float, units: Units) -> str:
    text = number if per == 1.0 else _converted(number, per)
    return text.replace(".", units.decimal)


def _converted(number: str, per: float) -> str:
    """Return a number divided by ``per`` with as many significant digits, two at least."""
    value = _value(number) / per
    if not value:
        return "0"
    digits = max(_LEAST_DIGITS, len(re.sub(r"\D", "", number).lstrip("0")))
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:{'+' if number.startswith('+') else ''}.{decimals}f}"


def mass_words(mass_kg: float, units: Units) -> str:
    """Return a mass with its unit, without a nought behind the mark."""
    number = units.number("kg", mass_kg, 1).removesuffix(f"{units.decimal}0")
    return f"{number} {units.name('kg')}"


def _value(number: str) -> float:
    return float(number.replace(",", "").replace("\N{MINUS SIGN}", "-"))
