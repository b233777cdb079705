"""Raw channels to forces and centres of pressure, all as one matrix product.

Everything a foot's load needs is linear in the raw channels: the force F, the
force N along the surface's normal n, and N times the place where it acts,
N c + n x M (c the platform's centre, M the moment about it). The centre of
pressure is then a quotient of sums, so platforms add up and a filter may be
applied before the division.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stream.layout import Array, Layout, Platform, PlatformKind, cross_matrix

#: Columns of a load: force in the mound frame (N), normal force (N), N x and N y (N m).
FX, FY, FZ, NORMAL, NX, NY = range(6)
LOAD_WIDTH = 6


@dataclass(frozen=True, eq=False)
class PlatformForces:
    """Every platform's wrench: ``force`` and ``moment`` (n, platforms, 3), N and N m.

    Mound axes, reaction on the pitcher; moments about the centre of each
    platform's top surface.
    """

    force: Array
    moment: Array


def platform_forces(
    layout: Layout, samples: npt.ArrayLike, tare: npt.ArrayLike | None = None
) -> PlatformForces:
    """Return each platform's force and moment for raw ``samples`` (n, channels).

    ``tare`` (channels,) is subtracted first, in raw units.
    """
    raw = np.asarray(samples, dtype=float)
    if tare is not None:
        raw = raw - np.asarray(tare, dtype=float)
    wrenches = np.stack([raw[:, list(p.channels)] @ p.to_wrench.T for p in layout.platforms], 1)
    return PlatformForces(wrenches[..., :3], wrenches[..., 3:])


def centre_of_pressure(layout: Layout, forces: PlatformForces, least_n: float = 20.0) -> Array:
    """Return each platform's centre of pressure, (n, platforms, 2) m, mound frame.

    NaN where the platform carries less than ``least_n`` along its normal, and
    on platforms that measure no moments the centre of their surface. Formula:
    r = c + (n x M) / (n . F), n the surface's normal (the free moment's axis).
    """
    places = np.full((*forces.force.shape[:2], 2), np.nan)
    for i, p in enumerate(layout.platforms):
        wrench = np.concatenate([forces.force[:, i], forces.moment[:, i]], axis=1)
        loads = wrench @ _load_rows(layout, p).T
        places[:, i] = pressure_point(layout, p, loads, least_n)
    return places


def load_matrix(layout: Layout, platforms: Iterable[Platform]) -> Array:
    """Return the matrix (LOAD_WIDTH, channels) that sums the loads of ``platforms``.

    For a deck on cells the surface is two planes, see :func:`pressure_point`:
    its matrix has LOAD_WIDTH + 3 rows, the last three for the sloped plane.
    """
    parts = [(list(p.channels), _load_rows(layout, p) @ p.to_wrench) for p in platforms]
    rows = max((len(part) for _, part in parts), default=LOAD_WIDTH)
    matrix = np.zeros((rows, layout.channels))
    for channels, part in parts:
        matrix[:, channels] += part
    return matrix


def pressure_point(
    layout: Layout, platform: Platform, loads: Array, least_n: float | Array
) -> Array:
    """Return where ``loads`` (n, rows of :func:`load_matrix`) act, (n, 2) m; NaN under ``least_n``.

    On a deck on cells the point is sought on the level plane first and, where
    that lies beyond its edge, on the sloped one.
    """
    point = _quotient(loads[:, NORMAL : NY + 1], least_n)
    if platform.kind is PlatformKind.CELLS:
        sloped = _quotient(loads[:, LOAD_WIDTH : LOAD_WIDTH + 3], least_n)
        on_slope = point[:, 0] > layout.deck.front_of_level
        point[on_slope] = sloped[on_slope]
    return point


def _quotient(columns: Array, least_n: float | Array) -> Array:
    normal = columns[:, 0]
    bearing = normal >= least_n
    point = np.full((len(columns), 2), np.nan)
    np.divide(columns[:, 1:], normal[:, None], out=point, where=bearing[:, None])
    return point


def _load_rows(layout: Layout, p: Platform) -> Array:
    """Rows that turn a wrench about the platform's centre into a load."""
    force = np.hstack([np.eye(3), np.zeros((3, 3))])
    if p.kind is not PlatformKind.CELLS:
        return np.vstack([force, _place_rows(p.axes[:, 2], p.centre, p.centre)])
    level = np.array([0.0, 0.0, 1.0])
    slope = np.array([layout.deck.fall_per_m, 0.0, 1.0])
    slope /= np.linalg.norm(slope)
    edge = np.array([layout.deck.front_of_level, 0.0, 0.0])
    return np.vstack(
        [force, _place_rows(level, edge, p.centre), _place_rows(slope, edge, p.centre)]
    )


def _place_rows(normal: Array, point: Array, about: Array) -> Array:
    """Rows (3, 6) for N, N x and N y on the plane through ``point``; moments are given ``about``.

    About ``point`` the moment is M + (about - point) x F, and
    N r = N point + normal x M.
    """
    n_cross = cross_matrix(normal)
    to_point = cross_matrix(about - point)
    rows = np.zeros((3, 6))
    rows[0, :3] = normal
    shifted = np.hstack([n_cross @ to_point, n_cross])
    shifted[:, :3] += np.outer(point, normal)
    rows[1:] = shifted[:2]
    return rows
