"""What the deck feels: contacts of feet and things with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from simulators.curves import Array

OfTime = Callable[[Array], Array]


class Role(StrEnum):
    """Whose contact it is."""

    DRIVE = "drive"
    LEAD = "lead"
    OTHER = "other"


@dataclass(frozen=True, eq=False)
class Contact:
    """One contact from ``start`` to ``end`` (s), mound frame.

    ``force``: (n,) s -> (n, 3) N, the ground reaction; ``pressure``: (n,) s ->
    (n, 2) m, where it acts on the surface; ``half_x``, ``half_y`` m: half the
    size of the area that bears it; ``twist`` m: free moment about the vertical
    per newton of vertical force.
    """

    role: Role
    start: float
    end: float
    force: OfTime
    pressure: OfTime
    half_x: float
    half_y: float
    twist: float = 0.0

    def later(self, by: float) -> Contact:
        """Return the same contact ``by`` seconds later."""
        force, pressure = self.force, self.pressure
        return replace(
            self,
            start=self.start + by,
            end=self.end + by,
            force=lambda t: force(t - by),
            pressure=lambda t: pressure(t - by),
        )
