"""Bodies that stand on the deck: their mass, size and natural sway."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulators.curves import Array

#: Standard gravity (NIST SP 811).
GRAVITY = 9.80665
#: Height of the centre of mass over stature, standing (common practice, no source).
CENTRE_OF_MASS = 0.56
#: Foot length over stature (common practice, no source).
FOOT_LENGTH = 0.152


@dataclass(frozen=True, slots=True)
class Body:
    """A person: mass in kg, height in m."""

    mass_kg: float
    height_m: float

    @property
    def weight_n(self) -> float:
        """Weight in N."""
        return self.mass_kg * GRAVITY

    @property
    def centre_height_m(self) -> float:
        """Height of the centre of mass in quiet standing, m."""
        return CENTRE_OF_MASS * self.height_m

    @property
    def foot_half_m(self) -> tuple[float, float]:
        """Half of the foot's bearing length and width, m (the arch and edges bear little)."""
        return 0.38 * FOOT_LENGTH * self.height_m, 0.022 * self.height_m


@dataclass(frozen=True, eq=False)
class Sway:
    """Natural sway of quiet standing as a sum of sinusoids, for the centre of mass.

    ``amplitude`` (k, 3) m, ``frequency`` (k,) Hz, ``phase`` (k, 3) rad. A few
    millimetres below 1 Hz along the ground; breath and heart-beat upwards.
    """

    amplitude: Array
    frequency: Array
    phase: Array

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Sway:
        """Draw a person's sway."""
        frequency = np.array([0.18, 0.33, 0.55, 0.9, 1.25]) * rng.uniform(0.85, 1.15, 5)
        level = np.array([[2.2, 1.6, 0.02], [1.4, 1.1, 0.1], [0.7, 0.6, 0.1], [0.2, 0.2, 0.14],
                          [0.08, 0.08, 0.22]]) * 1e-3  # fmt: skip
        amplitude = level * rng.uniform(0.5, 1.3, (5, 3))
        return cls(amplitude, frequency, rng.uniform(0.0, 2 * np.pi, (5, 3)))

    def state(self, t: float) -> tuple[Array, Array, Array]:
        """Return displacement, velocity and acceleration at ``t`` s, each (3,)."""
        w = 2 * np.pi * self.frequency[:, None]
        angle = w * t + self.phase
        return (
            (self.amplitude * np.sin(angle)).sum(axis=0),
            (self.amplitude * w * np.cos(angle)).sum(axis=0),
            (-self.amplitude * w * w * np.sin(angle)).sum(axis=0),
        )
