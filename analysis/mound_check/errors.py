"""How far a deck's readings are off: each placement, linearity, place."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.mound_check.placements import Measured
from stream.layout import Layout

#: Limits (general laboratory practice, no source): 1 % of the mass or 5 N; 10 mm.
WEIGHT_SHARE, WEIGHT_N, PLACE_MM = 0.01, 5.0, 10.0


class Row(msgspec.Struct, frozen=True):
    """One placement: applied and read force (N), errors; place errors None where not measured."""

    mass_kg: float
    x_m: float
    y_m: float
    platform: str
    applied_n: float
    read_n: float
    error_n: float
    error_share: float
    dx_mm: float | None
    dy_mm: float | None
    ok: bool


class Linearity(msgspec.Struct, frozen=True):
    """Read over applied force by least squares: read = intercept + slope x applied.

    ``slope_se``, ``intercept_se`` standard errors; ``worst_n`` the largest
    distance from the line, ``worst_share`` of the largest force applied.
    """

    platform: str
    placements: int
    slope: float
    slope_se: float
    intercept_n: float
    intercept_se: float
    worst_n: float
    worst_share: float


def rows(layout: Layout, measured: list[Measured], gravity: float) -> list[Row]:
    """Return the table of errors."""
    return [_row(layout, m, gravity) for m in measured]


def _row(layout: Layout, m: Measured, gravity: float) -> Row:
    applied = m.placement.mass_kg * gravity
    error = m.force_n - applied
    away: tuple[float | None, float | None] = (None, None)
    placed = True
    if m.place is not None and layout.measures_moments:
        dx, dy = (float(v) * 1000 for v in m.place - np.array(m.placement.spot))
        away = (dx, dy)
        placed = bool(np.hypot(dx, dy) <= PLACE_MM)
    return Row(
        mass_kg=m.placement.mass_kg,
        x_m=m.placement.spot[0],
        y_m=m.placement.spot[1],
        platform=m.platform.name,
        applied_n=applied,
        read_n=m.force_n,
        error_n=error,
        error_share=error / applied,
        dx_mm=away[0],
        dy_mm=away[1],
        ok=abs(error) <= max(WEIGHT_SHARE * applied, WEIGHT_N) and placed,
    )


def linearity(table: list[Row]) -> list[Linearity]:
    """Return the linearity of each platform with at least three placements of two masses."""
    found = []
    for name in dict.fromkeys(r.platform for r in table):
        mine = [r for r in table if r.platform == name]
        x = np.array([r.applied_n for r in mine])
        y = np.array([r.read_n for r in mine])
        if len(mine) < 3 or np.ptp(x) <= 0:
            continue
        design = np.column_stack([np.ones(len(x)), x])
        (intercept, slope), *_ = np.linalg.lstsq(design, y, rcond=None)
        rest = y - design @ (intercept, slope)
        variance = float(rest @ rest) / (len(x) - 2)
        se = np.sqrt(np.diag(variance * np.linalg.inv(design.T @ design)))
        worst = float(np.abs(rest).max())
        found.append(
            Linearity(
                name,
                len(mine),
                float(slope),
                float(se[1]),
                float(intercept),
                float(se[0]),
                worst,
                worst / float(x.max()),
            )
        )
    return found
