"""Units on the screen: SI or US customary, and the decimal mark.

Values are kept in SI everywhere; this is the only place that converts. Factors:
NIST SP 811 (2008), appendix B.8. Percent of body weight is the same in both.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from analysis.units import MPH_MPS

LBF_N = 4.4482216152605
FOOT_M = 0.3048
LB_KG = 0.45359237
FT_LBF_J = 1.3558179483314

MISSING = "\N{EM DASH}"
#: Stands beside a value that is an estimate.
ESTIMATE = "≈"


class System(StrEnum):
    """System of units."""

    SI = "si"
    US = "us"


@dataclass(frozen=True, slots=True)
class Shown:
    """A unit as it is shown: divide the SI value by ``per``."""

    per: float
    digits: int
    text: str


#: Names that may be typed behind a number, and what one of them is in SI.
_TYPED = {
    "kg": {"kg": 1.0, "g": 0.001, "lb": LB_KG, "lbs": LB_KG},
    "m": {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "in": FOOT_M / 12.0},
    "ball": {"m/s": 1.0, "mph": MPH_MPS, "km/h": 1.0 / 3.6},
}
_NUMBER = re.compile(r"\s*([-+]?(?:\d+[.,]?\d*|[.,]\d+))\s*([a-z/]*)\.?\s*", re.IGNORECASE)

#: Keys are the units of the metrics' registry, "ball" (ball speed) and "kg".
_BOTH = {
    "% BW": Shown(1.0, 0, "% body weight"),
    "% BW/s": Shown(1.0, 0, "% body weight/s"),
    "s": Shown(1.0, 3, "s"),
    "ms": Shown(1.0, 1, "ms"),
    "Hz": Shown(1.0, 1, "Hz"),
    "deg": Shown(1.0, 1, "°"),
    "W/kg": Shown(1.0, 1, "W/kg"),
    "": Shown(1.0, 2, ""),
}
_SHOWN = {
    System.SI: {
        **_BOTH,
        "N": Shown(1.0, 0, "N"),
        "N s": Shown(1.0, 0, "N s"),
        "m": Shown(1.0, 2, "m"),
        "m/s": Shown(1.0, 2, "m/s"),
        "ball": Shown(1.0, 1, "m/s"),
        "J": Shown(1.0, 0, "J"),
        "kg": Shown(1.0, 1, "kg"),
    },
    System.US: {
        **_BOTH,
        "N": Shown(LBF_N, 0, "lbf"),
        "N s": Shown(LBF_N, 0, "lbf s"),
        "m": Shown(FOOT_M, 2, "ft"),
        "m/s": Shown(FOOT_M, 1, "ft/s"),
        "ball": Shown(MPH_MPS, 1, "mph"),
        "J": Shown(FT_LBF_J, 0, "ft lbf"),
        "kg": Shown(LB_KG, 0, "lb"),
    },
}


@dataclass(frozen=True, slots=True)
class Units:
    """How numbers are written: system of units and decimal mark ("." or ",")."""

    system: System = System.US
    decimal: str = "."

    def name(self, unit: str) -> str:
        """Return the written name of a unit."""
        return _SHOWN[self.system][unit].text

    def number(self, unit: str, value: float | None, digits: int | None = None) -> str:
        """Return an SI ``value`` as a number in the shown unit, without its name.

        None and NaN are not known.
        """
        if value is None or math.isnan(value):
            return MISSING
        shown = _SHOWN[self.system][unit]
        text = f"{value / shown.per:.{shown.digits if digits is None else digits}f}"
        if float(text) == 0.0:
            text = text.lstrip("-")
        return text.replace(".", self.decimal)

    def quantity(self, unit: str, value: float | None) -> str:
        """Return an SI ``value`` with its unit."""
        name = self.name(unit)
        if value is None or not name:
            return self.number(unit, value)
        space = "" if name == "°" else "\N{NO-BREAK SPACE}"
        return f"{self.number(unit, value)}{space}{name}"

    def read(self, unit: str, text: str) -> float:
        """Return the SI value of a typed number, in the shown unit or in the one typed with it.

        Raise ValueError where it is no number, or the unit is none of this kind.
        """
        found = _NUMBER.fullmatch(text)
        if found is None:
            raise ValueError(f"no number: {text!r}")
        number, name = found.groups()
        value = float(number.replace(",", "."))
        if not name:
            return value * _SHOWN[self.system][unit].per
        per = _TYPED.get(unit, {}).get(name.lower())
        if per is None:
            raise ValueError(f"no unit of this kind: {name!r}")
        return value * per

    def other(self) -> Units:
        """Return the same with the other system of units."""
        return Units(System.SI if self.system is System.US else System.US, self.decimal)
