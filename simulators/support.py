"""Feet that stand: how they share the body's reaction and where the pressure is under each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulators.body import GRAVITY, Body
from simulators.contacts import Contact, Role
from simulators.curves import Array, Way, smooth_step
from stream.layout import Deck

#: Free moment per newton of vertical force, m (a turning foot; common practice, no source).
TWIST = 0.015


@dataclass(frozen=True, slots=True)
class Print:
    """Where a foot stands: centre (x, a) m and the direction of its toes, rad from x towards a."""

    x: float
    a: float
    yaw: float = 0.0

    @property
    def place(self) -> Array:
        """The centre as an array (2,)."""
        return np.array([self.x, self.a])


@dataclass(slots=True)
class Footfall:
    """A foot on the ground from ``start`` to ``end`` s.

    ``offset`` (2,) m: how far the pressure is from where it belongs at the start.
    """

    role: Role
    foot: Print
    start: float
    end: float
    offset: Array


class Ramps:
    """A value that goes from level to level by smooth steps."""

    def __init__(self, value: float) -> None:
        self.value = value
        self._first = value
        self._change = 0.0
        self._ramps: list[tuple[float, float, float]] = []

    def to(self, start: float, end: float, value: float) -> None:
        """Go to ``value`` between ``start`` and ``end``; ramps follow one another in time."""
        self.value_to(value)
        self.ramp(start, end)

    def value_to(self, value: float) -> None:
        """Set the next level; :meth:`ramp` tells when it is reached."""
        self._change += value - self.value
        self.value = value

    def ramp(self, start: float, end: float) -> None:
        """Reach the level set by :meth:`value_to` between ``start`` and ``end``."""
        self._ramps.append((start, end, self._change))
        self._change = 0.0

    def __call__(self, t: Array) -> Array:
        """Return the value at ``t``."""
        value = np.full(t.shape, self._first)
        for start, end, change in self._ramps:
            value += change * smooth_step((t - start) / (end - start))
        return value


@dataclass(frozen=True, eq=False)
class Bearer:
    """Whose feet they are: the body, its way, and how weight and shear are shared."""

    body: Body
    deck: Deck
    side: int
    way: Way
    share: Ramps
    shear: Ramps


class SharedContact:
    """One footfall that bears its share of the whole body's reaction."""

    def __init__(self, bearer: Bearer, fall: Footfall, falls: Sequence[Footfall]) -> None:
        self._body, self._deck, self._side = bearer.body, bearer.deck, bearer.side
        self._share, self._shear, self._way = bearer.share, bearer.shear, bearer.way
        self._fall = fall
        self._prints = [f for f in falls if f.role is not fall.role]

    def contact(self, end: float) -> Contact:
        """Return it as a contact in the mound frame."""
        length, width = self._body.foot_half_m
        cos, sin = abs(np.cos(self._fall.foot.yaw)), abs(np.sin(self._fall.foot.yaw))
        drive = self._fall.role is Role.DRIVE
        return Contact(
            role=self._fall.role,
            start=self._fall.start,
            end=end,
            force=self._force,
            pressure=self._pressure,
            half_x=0.5 * (length * cos + width * sin) + 0.01,
            half_y=0.5 * (length * sin + width * cos) + 0.01,
            twist=TWIST * self._side * (1 if drive else -1),
        )

    def _weight(self, t: Array) -> Array:
        w = np.clip(self._share(t), 0.0, 1.0)
        return w if self._fall.role is Role.DRIVE else 1.0 - w

    def _force(self, t: Array) -> Array:
        w = self._weight(t)
        force = self._way.acceleration(t)
        force[:, 2] += GRAVITY
        force *= (self._body.mass_kg * w)[:, None]
        sign = 1.0 if self._fall.role is Role.DRIVE else -1.0
        force[:, 0] += sign * self._shear(t) * 4 * w * (1 - w) * self._body.weight_n
        force[:, 1] *= self._side
        return force

    def _pressure(self, t: Array) -> Array:
        foot = self._fall.foot
        way, push = self._way.position(t), self._way.acceleration(t)
        height = way[:, 2] - self._deck.height(way[:, 0])
        lift = np.maximum(push[:, 2] + GRAVITY, 0.2 * GRAVITY)
        zero_moment = way[:, :2] - (height / lift)[:, None] * push[:, :2]
        w = self._weight(t)[:, None]
        middle = w * foot.place + (1 - w) * self._other_place(t)
        cos, sin = np.cos(foot.yaw), np.sin(foot.yaw)
        turn = np.array([[cos, -sin], [sin, cos]])
        reach = np.array(self._body.foot_half_m)
        moved = reach * np.tanh(((zero_moment - middle) @ turn) / reach)
        fade = 1.0 - smooth_step((t - self._fall.start) / 0.25)
        place = foot.place + moved @ turn.T + fade[:, None] * self._fall.offset
        return np.asarray(place * (1.0, self._side))

    def _other_place(self, t: Array) -> Array:
        """Where the other foot stands; where it does not stand, this one counts alone."""
        place = np.tile(self._fall.foot.place, (t.size, 1))
        for fall in self._prints:
            place[(t >= fall.start) & (t < fall.end)] = fall.foot.place
        return place
