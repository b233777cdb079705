"""Local gravity, for a known mass: it differs by 0.5 % between equator and pole."""

from __future__ import annotations

import math

#: Normal gravity at the equator, Somigliana's constant and first eccentricity squared: GRS80.
_EQUATOR = 9.7803267715
_K = 0.001931851353
_E2 = 0.00669438002290
#: Fall of gravity with height, m/s2 a metre (free air).
_FREE_AIR = 3.086e-6


def local_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """Return normal gravity, m/s2, at a latitude and a height above sea.

    Somigliana's closed formula on the Geodetic Reference System 1980 (Moritz
    1980) with the free-air gradient; the rock below changes it by under
    0.02 %. Raise ValueError for a latitude beyond the poles.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(f"latitude {latitude_deg:g} is not between -90 and 90 degrees")
    s2 = math.sin(math.radians(latitude_deg)) ** 2
    return _EQUATOR * (1.0 + _K * s2) / math.sqrt(1.0 - _E2 * s2) - _FREE_AIR * height_m
