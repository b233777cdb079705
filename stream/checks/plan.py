"""What a guided set-up check asks of the operator, step by step and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from stream.layout import Layout, PlatformKind
from stream.movement import STANDARD_GRAVITY


class Step(StrEnum):
    """Where the procedure is."""

    EMPTY = "empty"
    MASS = "mass"
    STAND = "stand"
    DONE = "done"


TITLES: Mapping[Step, str] = MappingProxyType(
    {
        Step.EMPTY: "Step off: zero and noise",
        Step.MASS: "Known mass: weight, signs, place",
        Step.STAND: "Stand on: body weight",
    }
)


@dataclass(frozen=True)
class Plan:
    """What the operator wants checked.

    ``seconds``: how long each load is looked at; ``mass_kg`` and ``spot``
    (x, y m) of the known mass, None without one; ``stand``: whether a person
    is weighed too; ``by``: who makes the check.
    """

    seconds: float = 5.0
    mass_kg: float | None = None
    spot: tuple[float, float] | None = None
    stand: bool = False
    gravity: float = STANDARD_GRAVITY
    by: str = ""

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps in order."""
        mass = (Step.MASS,) if self.mass_kg is not None or self.spot is not None else ()
        stand = (Step.STAND,) if self.stand else ()
        return (Step.EMPTY, *mass, *stand, Step.DONE)


@dataclass(frozen=True)
class Now:
    """What the operator sees: the step, what to do, how far it is (0 to 1), what hinders it."""

    step: Step
    number: int
    of: int
    do: str
    progress: float
    hindrance: str | None


def kilograms(mass_kg: float) -> str:
    """Return a mass in digits that can be read off a scale: 20.0034 is 20, 20.4117 is 20.4."""
    return f"{round(mass_kg, 1 if mass_kg >= 10.0 else 2):g}"


def instruction(step: Step, plan: Plan) -> str:
    """Return what the operator is to do in ``step``."""
    match step:
        case Step.EMPTY:
            return "Step off the deck and take everything off it; nobody walks beside it."
        case Step.MASS:
            mass = "a load" if plan.mass_kg is None else f"the {kilograms(plan.mass_kg)} kg"
            where = "the deck"
            if plan.spot is not None:
                x, y = plan.spot
                where = (
                    f"the marked spot: {abs(x):.2f} m {'in front of' if x >= 0 else 'behind'} the "
                    f"rubber's front edge, {abs(y):.2f} m to the {'left' if y >= 0 else 'right'} "
                    "of the middle"
                )
            return f"Put {mass} on {where}. Lift safely, with help if it is heavy; then let go."
        case Step.STAND:
            return "Take the mass away, stand on the deck with both feet and stand still."
        case Step.DONE:
            return "Done: read what was found."


def usual_spot(layout: Layout) -> tuple[float, float]:
    """Return a spot (x, y) m for the known mass, off both middle lines of the largest platform.

    On tiles it is the middle of one: only there is a place known well.
    """
    platform = max(
        layout.platforms, key=lambda p: np.ptp(p.corners[:, 0]) * np.ptp(p.corners[:, 1])
    )
    corners = np.concatenate([p.corners for p in layout.platforms])
    area = corners if platform.kind is PlatformKind.FORCE else platform.corners
    low, high = area[:, :2].min(axis=0), area[:, :2].max(axis=0)
    x, y = low + 0.75 * (high - low)
    if platform.kind is PlatformKind.FORCE:
        x, y, _ = min(
            (p.centre for p in layout.platforms), key=lambda c: np.hypot(c[0] - x, c[1] - y)
        )
    return round(float(x), 2), round(float(y), 2)
