"""One delivery's window as the formulas see it: forces of both feet, events, body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from stream.curves import running_integral
from stream.layout import Array

#: Standard gravity, m/s2 (NIST SP 811, appendix B.8; CGPM 1901).
STANDARD_GRAVITY = 9.80665

X, Y, Z = range(3)


@dataclass(frozen=True, eq=False)
class Foot:
    """One foot's load: ``force`` (n, 3) N and ``cop`` (n, 2) m, mound frame, low-passed.

    ``cop`` is NaN where the foot carries too little to tell.
    """

    force: Array
    cop: Array

    @cached_property
    def resultant(self) -> Array:
        """Size of the force, (n,) N."""
        return np.asarray(np.sqrt((self.force * self.force).sum(axis=1)))


@dataclass(frozen=True, eq=False)
class Movement:
    """A window of n samples around one delivery.

    ``deck`` (n, 3) is the whole deck's force; ``missing`` (n,) marks frames that
    never came; ``quiet`` is the [first, last) sample of quiet standing.
    ``still_until`` is the sample up to which the body was at rest for sure.
    ``events`` holds positions (fractional samples), None where not found.
    """

    rate_hz: float
    drive: Foot
    lead: Foot
    deck: Array
    missing: npt.NDArray[np.bool_]
    quiet: tuple[int, int]
    still_until: int
    weight_n: float
    throws: str | None
    height_m: float | None
    events: Mapping[str, float | None]

    @cached_property
    def has_gaps(self) -> bool:
        """Whether any frame of the window never came."""
        return bool(self.missing.any())

    @property
    def mass_kg(self) -> float:
        """Body mass, kg."""
        return self.weight_n / STANDARD_GRAVITY

    def at(self, event: str) -> float:
        """Return the position of an event that is known to have been found."""
        position = self.events[event]
        if position is None:
            raise LookupError(event)
        return position

    @cached_property
    def forward_speed(self) -> Array:
        """Forward velocity of the centre of mass, (n,) m/s: whole-deck Fx / m from quiet standing.

        At rest until ``still_until``: a deck's noise can hide how the body begins to move, and
        `first_move` is late then. Valid while the deck carries the whole body.
        """
        start = float(self.still_until)
        return running_integral(self.deck[:, X], start, self.rate_hz) / self.mass_kg

    @cached_property
    def forward_power(self) -> Array:
        """Forward mechanical power per kg, Fx vx / m, (n,) W/kg."""
        return self.deck[:, X] * self.forward_speed / self.mass_kg

    def towards_arm_side(self, sideways: Array) -> Array | None:
        """Turn a y component into one positive towards the arm side; None if handedness unknown.

        A right-hander's throwing arm is on the third-base side, which is -y.
        """
        if self.throws is None:
            return None
        return -sideways if self.throws == "R" else sideways
