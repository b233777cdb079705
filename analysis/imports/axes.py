"""A laboratory's axes turned into the mound frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.imports.errors import ImportRefusedError

Array = npt.NDArray[np.float64]

_NAMES = "xyz"


def direction(text: str) -> Array:
    """Return the unit vector of an axis such as ``x``, ``+y`` or ``-z``; raise for another."""
    name = text.strip().lower().removeprefix("+")
    sign = -1.0 if name.startswith("-") else 1.0
    name = name.removeprefix("-")
    if len(name) != 1 or name not in _NAMES:
        raise ImportRefusedError(f"an axis is x, y or z with or without a sign, not {text!r}")
    return np.asarray(sign * np.eye(3)[_NAMES.index(name)])


def is_axis(text: str) -> bool:
    """Return whether ``text`` names an axis."""
    return text.strip().lower().lstrip("+-") in tuple(_NAMES)


def axis_name(vector: Array) -> str:
    """Return the name of the axis nearest to ``vector`` (3,)."""
    k = int(np.argmax(np.abs(vector)))
    return ("-" if vector[k] < 0 else "+") + _NAMES[k]


@dataclass(frozen=True, eq=False)
class Placement:
    """How a laboratory lies in the mound frame.

    Rows of ``rotation`` (3, 3) are the mound's x, y, z in laboratory axes; ``rubber`` (3,) m is
    the middle of the front edge of the rubber, at its top, in the laboratory.
    """

    rotation: Array
    rubber: Array

    def points(self, laboratory_m: Array) -> Array:
        """Return points (n, 3) m in the mound frame."""
        return np.asarray((laboratory_m - self.rubber) @ self.rotation.T)


def placement(up: Array, forward: Array, rubber: Array) -> Placement:
    """Return the placement of a laboratory; raise where up and forward are one axis."""
    if abs(float(up @ forward)) > 1e-9:
        raise ImportRefusedError(
            f"'up' ({axis_name(up)}) and 'forward' ({axis_name(forward)}) are the same axis"
        )
    return Placement(np.stack([forward, np.cross(up, forward), up]), rubber)
