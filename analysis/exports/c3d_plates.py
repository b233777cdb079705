"""A layout's platforms as C3D force platforms of TYPE 2.

By the C3D user guide ("The FORCE_PLATFORM group") a platform's channels are given in its own axes,
which for a floor platform have z pointing down; readers turn them into laboratory axes by the
corners. The channels hold the reaction on the person, so that the laboratory's vertical force
comes out positive under load. Moments are about the centre of the surface (ORIGIN 0, 0, 0), in
N mm as lengths are in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stream.forces import platform_forces
from stream.layout import Layout, PlatformKind

Array = npt.NDArray[np.float64]

TYPE = 2
_MM = 1000.0
#: Half a turn about x: our platform axes have z out of the surface, C3D's point into the floor.
_TURN = np.array([1.0, -1.0, -1.0])
#: Corners (+x+y), (-x+y), (-x-y), (+x-y) in the turned axes.
_CORNERS = [3, 2, 1, 0]
_PARTS = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")


@dataclass(frozen=True, eq=False)
class Plates:
    """Analog channels (n, k) with ``labels`` and ``units``, and how the platforms use them.

    ``use`` (6, platforms) are channel numbers from 1; ``corners`` (3, 4, platforms) mm.
    """

    channels: Array
    labels: tuple[str, ...]
    units: tuple[str, ...]
    use: npt.NDArray[np.int64]
    corners: Array


def plates_of(layout: Layout, samples: Array) -> Plates:
    """Return the platforms for ``samples`` (n, channels) raw, the zero taken off.

    Platforms that measure no moments share one channel of zeros for them: their force acts at
    the centre of the surface.
    """
    forces = platform_forces(layout, samples)
    columns: list[Array] = []
    labels: list[str] = []
    units: list[str] = []
    use = np.zeros((6, len(layout.platforms)), dtype=np.int64)
    for k, p in enumerate(layout.platforms):
        turn = p.axes * _TURN
        columns.append(forces.force[:, k] @ turn)
        labels += [f"{p.name}.{part}" for part in _PARTS[:3]]
        units += ["N"] * 3
        use[:3, k] = np.arange(len(labels) - 2, len(labels) + 1)
        if p.kind is not PlatformKind.FORCE:
            columns.append(_MM * forces.moment[:, k] @ turn)
            labels += [f"{p.name}.{part}" for part in _PARTS[3:]]
            units += ["Nmm"] * 3
            use[3:, k] = np.arange(len(labels) - 2, len(labels) + 1)
    if (use == 0).any():
        columns.append(np.zeros((len(samples), 1)))
        labels.append("no moment")
        units.append("Nmm")
        use[use == 0] = len(labels)
    corners = np.stack([_MM * p.corners[_CORNERS].T for p in layout.platforms], axis=2)
    return Plates(np.concatenate(columns, axis=1), tuple(labels), tuple(units), use, corners)
