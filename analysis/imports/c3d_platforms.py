"""Force platforms of TYPE 1 to 4 of a C3D file as channels and platforms of a layout.

What the types' channels are: C3D user guide, "The FORCE_PLATFORM group" (TYPE 1: Fx Fy Fz, place
of the force, free moment; 2: Fx Fy Fz Mx My Mz; 3: eight forces of four sensors; 4: as 2 through
a calibration matrix F_i = sum_j C_ij v_j). Formulas of TYPE 3: the same, with a and b the sensors'
distances from the centre (ORIGIN 1 and 2) and az0 their height (ORIGIN 3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.imports.axes import Array, Placement
from analysis.imports.c3d_file import C3DContent, RawPlatform
from analysis.imports.c3d_units import Units
from analysis.imports.errors import ImportRefusedError
from stream.layout import Platform, PlatformKind
from stream.wire import MAX_READING

_CHANNELS = {1: 6, 2: 6, 3: 8, 4: 6}
#: Axes turned half round about x: a platform whose z points down, with z up.
_TURNED = np.array([1.0, -1.0, -1.0])
_UP_IS = 0.5


@dataclass(frozen=True, eq=False)
class PlateFeed:
    """One platform's ``channels`` (n, 6) for the feed, and the platform that reads them.

    (n, 3) where it measures no moments.
    """

    channels: Array
    platform: Platform


def plate_feed(
    raw: RawPlatform,
    content: C3DContent,
    units: Units,
    where: Placement,
    name: str,
    first_channel: int,
    sense: int,
) -> PlateFeed:
    """Return a platform's channels and its place in a layout; raise ImportRefusedError."""
    values = _values(raw, content, name)
    corners = where.points(raw.corners * units.length)
    order, turned = _upright(corners)
    origin = _below_surface(raw, units, turned)
    match raw.kind:
        case 1:
            channels, matrix, origin = _placed_force(values, units), np.eye(6), np.zeros(3)
        case 2:
            channels, matrix = values * _factors(units), np.eye(6)
        case 3:
            channels, matrix = _eight_forces(raw, values, units), np.eye(6)
            origin = np.array([0.0, 0.0, origin[2]])
        case _:
            channels, matrix = _calibrated(raw, values, units, name)
    if turned:
        matrix = np.diag(np.tile(_TURNED, 2)) @ matrix
        origin = _TURNED * origin
    platform = Platform(
        name=name,
        kind=PlatformKind.WRENCH,
        channels=tuple(range(first_channel, first_channel + 6)),
        corners=corners[order],
        # C3D's ORIGIN runs from the sensor to the surface's centre, the layout's the other way.
        origin=-origin + 0.0,
        calibration=matrix + 0.0,
        sense=sense,
    )
    return PlateFeed(channels, platform)


def check_platforms(content: C3DContent) -> None:
    """Raise :class:`ImportRefusedError` where a platform is none that can be read."""
    if not content.platforms:
        raise ImportRefusedError("the file describes no force platform")
    for number, raw in enumerate(content.platforms, start=1):
        if raw.kind not in _CHANNELS:
            raise ImportRefusedError(
                f"force platform {number} is of TYPE {raw.kind}; TYPE 1 to 4 are read"
            )
        if len(raw.channels) < _CHANNELS[raw.kind]:
            raise ImportRefusedError(
                f"force platform {number} of TYPE {raw.kind} names {len(raw.channels)} channels, "
                f"not {_CHANNELS[raw.kind]}"
            )
        if not np.isfinite(raw.corners).all() or not np.isfinite(raw.origin).all():
            raise ImportRefusedError(f"force platform {number}: its place is not finite numbers")
        c = raw.corners
        edges = np.linalg.norm(c - np.roll(c, 1, axis=0), axis=1)
        area = np.linalg.norm(np.cross(c[0] - c[2], c[1] - c[3]))
        if area <= 1e-3 * float(edges.max()) ** 2 or not area > 0.0:
            raise ImportRefusedError(f"force platform {number}: its corners span no surface")


def raw_normals(platforms: Sequence[RawPlatform]) -> Array:
    """Return the platforms' own z axes (n, 3) in laboratory axes."""
    normals = [
        np.cross(p.corners[0] - p.corners[1], p.corners[0] - p.corners[3]) for p in platforms
    ]
    return np.array([n / np.linalg.norm(n) for n in normals])


def _values(raw: RawPlatform, content: C3DContent, name: str) -> Array:
    channels = list(raw.channels[: _CHANNELS[raw.kind]])
    count = content.analogs.shape[1]
    if any(not 0 <= c < count for c in channels):
        raise ImportRefusedError(
            f"force platform {name} names channel {max(channels) + 1}; the file has {count}"
        )
    return content.analogs[:, channels]


def _upright(corners: Array) -> tuple[list[int], bool]:
    """Return the order of corners in which z points up, and whether that turned the platform."""
    z = np.cross(corners[0] - corners[1], corners[0] - corners[3])
    slant = float(z[2] / np.linalg.norm(z))
    if abs(slant) < _UP_IS:
        raise ImportRefusedError(
            "a force platform stands on edge: say which of the file's axes points up with --up"
        )
    return ([3, 2, 1, 0], True) if slant < 0 else ([0, 1, 2, 3], False)


def _below_surface(raw: RawPlatform, units: Units, turned: bool) -> Array:
    """Return ORIGIN (m, the platform's own axes) with the sensor below the surface.

    Some programs write it the other way round; a sensor above the surface cannot be.
    """
    origin = raw.origin * units.length
    above = origin[2] > 0 if turned else origin[2] < 0
    if not above:
        return origin
    return np.array([*origin[:2], -origin[2]]) if raw.kind == 3 else -origin


def _factors(units: Units) -> Array:
    return np.repeat([units.force, units.moment], 3)


def _placed_force(values: Array, units: Units) -> Array:
    """TYPE 1: moments about the surface's centre from the force's place and the free moment."""
    fx, fy, fz = (values[:, :3] * units.force).T
    px, py = (values[:, 3:5] * units.length).T
    tz = values[:, 5] * units.moment
    return np.column_stack([fx, fy, fz, py * fz, -px * fz, tz + px * fy - py * fx])


def _eight_forces(raw: RawPlatform, values: Array, units: Units) -> Array:
    """TYPE 3: forces and the moments about the middle of the four sensors."""
    x12, x34, y14, y23, z1, z2, z3, z4 = (values * units.force).T
    a, b = np.abs(raw.origin[:2]) * units.length
    return np.column_stack(
        [
            x12 + x34,
            y14 + y23,
            z1 + z2 + z3 + z4,
            b * (z1 + z2 - z3 - z4),
            a * (-z1 + z2 + z3 - z4),
            b * (-x12 + x34) + a * (y14 - y23),
        ]
    )


def _calibrated(raw: RawPlatform, values: Array, units: Units, name: str) -> tuple[Array, Array]:
    """TYPE 4: the channels as they are, and the matrix to N and N m.

    Channels too large for a feed (moments in N mm) are sent as thousandths.
    """
    matrix = raw.calibration
    if matrix is None or matrix.shape != (6, 6) or not np.isfinite(matrix).all():
        raise ImportRefusedError(
            f"force platform {name} is of TYPE 4 and has no calibration matrix of 6 by 6"
        )
    largest = np.abs(values).max(axis=0, initial=0.0, where=np.isfinite(values))
    share = np.where(largest > 0.5 * MAX_READING, 1e-3, 1.0)
    return values * share, _factors(units)[:, None] * matrix / share
