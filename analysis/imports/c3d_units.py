"""The units of a C3D file: what it says, what is stated, what follows from the platforms' size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.imports.c3d_file import C3DContent
from analysis.imports.errors import ImportRefusedError

LENGTHS: Mapping[str, float] = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}
#: NIST SP 811: 1 lbf = 4.4482216152605 N.
FORCES: Mapping[str, float] = {"n": 1.0, "kn": 1e3, "lbf": 4.4482216152605}
MOMENTS: Mapping[str, float] = {
    "nm": 1.0,
    "nmm": 1e-3,
    "ncm": 1e-2,
    "knm": 1e3,
    "lbfin": 4.4482216152605 * 0.0254,
    "lbfft": 4.4482216152605 * 0.3048,
}
#: No platform is that long in metres, nor that short in millimetres.
_LONGEST_IN_M = 10.0


@dataclass(frozen=True)
class Units:
    """Factors to m, N and N m."""

    length: float
    force: float
    moment: float


def file_units(
    content: C3DContent, length_unit: str | None, moment_unit: str | None, notes: list[str]
) -> Units:
    """Return the file's units, or those stated; raise :class:`ImportRefusedError`.

    Lengths by POINT:UNITS, forces and moments by ANALOG:UNITS of the platforms' channels; where
    those say nothing, N and N times the unit of length, as C3D readers take them.
    """
    corners = np.stack([p.corners for p in content.platforms])
    longest = float(np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max())
    said = (length_unit or content.length_unit).lower()
    if not said:
        said = "mm" if longest > _LONGEST_IN_M else "m"
        notes.append(f"The file names no unit of length; {said} is taken from the platforms' size.")
    if said not in LENGTHS:
        raise ImportRefusedError(
            f"lengths in {said!r} are not known; say --length-unit {'|'.join(LENGTHS)}"
        )
    length = LENGTHS[said]
    if not 0.05 < longest * length < _LONGEST_IN_M:
        raise ImportRefusedError(
            f"a force platform would be {longest * length:g} m long with lengths in {said}; "
            f"say --length-unit {'|'.join(LENGTHS)}"
        )
    force = _named_unit(content, FORCES, 0, 3) or 1.0
    if moment_unit and _plain(moment_unit) not in MOMENTS:
        raise ImportRefusedError(
            f"moments in {moment_unit!r} are not known; say --moment-unit {'|'.join(MOMENTS)}"
        )
    stated = MOMENTS[_plain(moment_unit)] if moment_unit else None
    moment = stated or _named_unit(content, MOMENTS, 3, 6) or force * length
    return Units(length, force, moment)


def _named_unit(
    content: C3DContent, known: Mapping[str, float], first: int, last: int
) -> float | None:
    """Return the factor of the unit that the platforms' channels name, if they agree on one."""
    named: set[float | None] = set()
    for raw in content.platforms:
        if raw.kind in (1, 2):
            channels = (
                raw.channels[first:last] if raw.kind == 2 or first == 0 else raw.channels[5:6]
            )
            named |= {
                known.get(_plain(content.units[c])) if 0 <= c < len(content.units) else None
                for c in channels
            }
    return named.pop() if len(named) == 1 else None


def _plain(unit: str) -> str:
    return "".join(c for c in unit.lower() if c.isalpha())
