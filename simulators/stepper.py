"""A person who stands, shifts weight and steps, as contacts with the ground.

The centre of mass follows a course; the ground reaction is the body's mass
times (its acceleration + gravity), shared by the feet that stand. Under each
foot the pressure moves, as far as the foot reaches, to where the whole body's
zero-moment point is: x - h a / (g + a_z).

Coordinates here are (x, a): x towards home, a towards the arm side of this
person's throwing hand; ``side`` turns them into the mound frame (y = side a).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from simulators.body import GRAVITY, Body, Sway
from simulators.contacts import Contact, Role
from simulators.curves import Array, Course, Way
from simulators.support import Bearer, Footfall, Print, Ramps, SharedContact
from stream.layout import Deck

_SETTLE_S = 0.35
_SWAY_STEP_S = 0.1
_BOB_M = 0.022
_FULL_STEP_M = 0.7
#: Sideways acceleration of an unhurried shift of weight, m/s^2; and what the quintic from rest to
#: rest reaches over a way of 1 m in 1 s.
_EASY_MPS2, _QUINTIC_PEAK = 2.5, 5.774


class Stepper:
    """Builds one person's movement from rest to rest; ``now`` is the time reached, s."""

    def __init__(
        self, body: Body, deck: Deck, side: int, stance: tuple[Print, Print], sway: Sway
    ) -> None:
        self.body, self.deck, self.side, self.sway = body, deck, side, sway
        self.now = 0.0
        self.share = Ramps(0.5)  # of the drive foot
        self.shear = Ramps(0.0)  # share of weight with which the feet push apart
        self.contacts: list[Contact] = []
        self._falls: list[Footfall] = []
        self._down: dict[Role, Footfall] = {}
        self.feet = {Role.DRIVE: stance[0], Role.LEAD: stance[1]}
        for role in (Role.DRIVE, Role.LEAD):
            self.land(role, self.feet[role])
        self.course = Course(self.standing())

    def standing(self, crouch: float = 0.0) -> Array:
        """Return where the centre of mass rests over the present feet and share, (3,) m."""
        w = self.share.value
        xy = w * self.feet[Role.DRIVE].place + (1 - w) * self.feet[Role.LEAD].place
        return self.over(xy, crouch)

    def over(self, xy: Array, crouch: float = 0.0) -> Array:
        """Return the place of an upright (or crouching) centre of mass above ``xy``, (3,) m."""
        ground = float(self.deck.height(xy[0]))
        return np.array([xy[0], xy[1], ground + self.body.centre_height_m - crouch])

    def land(self, role: Role, foot: Print, offset: Array | None = None) -> None:
        """Put a foot down now; it bears what its share says."""
        fall = Footfall(role, foot, self.now, np.inf, np.zeros(2) if offset is None else offset)
        self.feet[role] = foot
        self._down[role] = fall
        self._falls.append(fall)

    def leave(self, role: Role) -> None:
        """Take a foot off the ground now; its share must be 0."""
        self._down.pop(role).end = self.now

    def go(self, duration: float, place: npt.ArrayLike, **state: npt.ArrayLike) -> None:
        """Let the centre of mass go to ``place`` in ``duration`` s."""
        self.now += duration
        self.course.to(self.now, place, **state)

    def stand(self, duration: float, crouch: float = 0.0) -> None:
        """Stand with natural sway; at the end the body still sways."""
        base, start = self.standing(crouch), self.now
        count = max(round((duration - 0.25) / _SWAY_STEP_S), 1)
        for time in start + duration - _SWAY_STEP_S * np.arange(count)[::-1]:
            p, v, a = self.sway.state(float(time))
            self.course.to(float(time), base + p, v, a)
        self.now = start + duration

    def rest(self, duration: float = _SETTLE_S) -> None:
        """Come to perfect rest over the present stance."""
        self.go(duration, self.standing())

    def shift(self, share: float, duration: float, rise: float = 0.0, lean: float = 1.0) -> None:
        """Shift the weight; ``share`` is the drive foot's, ``rise`` m lifts the body.

        ``lean``: how far of the way the centre of mass goes along; what it
        does not go, the next movement must. A long way takes longer than asked.
        """
        here, start = self.course.position.copy(), self.now
        self.share.value_to(share)
        there = here + lean * (self.standing(-rise) - here)
        way = float(np.hypot(*(there - here)[:2]))
        duration = max(duration, float(np.sqrt(_QUINTIC_PEAK * way / _EASY_MPS2)))
        self.go(duration, there)
        self.share.ramp(start, self.now)

    def walk(
        self,
        steps: Sequence[tuple[Role, Print]],
        period: float = 0.6,
        settle: float = 0.5,
        settle_s: float = _SETTLE_S,
    ) -> None:
        """Take ``steps`` (foot, where), feet in turn, one each ``period`` s, then come to rest.

        ``settle`` is the drive foot's share at the end, reached in ``settle_s``.
        """
        double = 0.24 * period
        begin = max(_SETTLE_S, 0.6 * period)
        self.share.to(self.now, self.now + begin, 0.0 if steps[0][0] is Role.DRIVE else 1.0)
        time = self.now + begin
        knots: list[tuple[float, Array]] = []
        for k, (role, foot) in enumerate(steps):
            old, stance = self.feet[role], self.feet[_other(role)].place
            length = float(np.hypot(*(foot.place - old.place)))
            bob = _BOB_M * min(1.0, 0.5 * length / _FULL_STEP_M) ** 2
            self.now = time
            self.leave(role)
            path = 0.5 * (old.place + foot.place)
            middle = time + 0.5 * (period - double)
            knots.append((middle, self.over(0.35 * stance + 0.65 * path, -bob)))
            self.now = time = time + period - double
            self.land(role, foot)
            last = k == len(steps) - 1
            until = time + (settle_s if last else double)
            self.share.to(time, until, settle if last else float(role is Role.DRIVE))
            if not last:
                between = self.over(0.5 * (stance + foot.place), bob)
                knots.append((time + 0.5 * double, between))
            time = until
        self.now = time + 0.15
        knots.append((self.now, self.standing()))
        self.course.along([t for t, _ in knots], [p for _, p in knots])

    def spring(self, up: float, along: Array, crouch: float = 0.10) -> None:
        """Jump off with the feet that stand, ``up`` m/s, and land ``along`` (2,) m further.

        The feet land as they left; the landing is absorbed in a crouch.
        """
        push, absorb = 0.24, 0.28
        here, there = self.course.position[:2].copy(), self.course.position[:2] + along
        lower = float(self.deck.height(here[0]) - self.deck.height(there[0]))
        flight = (up + float(np.sqrt(up * up + 2 * GRAVITY * lower))) / GRAVITY
        speed = along / (flight + 0.5 * (push + absorb))
        off, on = here + 0.5 * push * speed, there - 0.5 * absorb * speed
        high = self.over(here)
        weightless = (0.0, 0.0, -GRAVITY)
        standing = [(role, fall.foot) for role, fall in self._down.items()]
        self.go(0.30, high - (0.0, 0.0, crouch))
        self.go(push, [*off, high[2]], velocity=(*speed, up), acceleration=weightless)
        for role, _ in standing:
            self.leave(role)
        fallen = (*speed, up - GRAVITY * flight)
        self.go(flight, [*on, high[2] - lower], velocity=fallen, acceleration=weightless)
        for role, foot in standing:
            x, a = foot.place + along
            self.land(role, Print(float(x), float(a), foot.yaw))
        self.go(absorb, self.standing(crouch))
        self.go(0.35, self.standing())

    def lunge(self, role: Role, foot: Print, speed: float, drop: float, swing: float) -> None:
        """From standing on the other foot, throw the body onto ``foot`` and be caught by it.

        ``speed`` m/s towards it at landing after ``swing`` s, ``drop`` m/s
        downwards. Ends standing on ``foot``.
        """
        here = self.course.position[:2].copy()
        way = foot.place - here
        reach = float(np.hypot(*way))
        way = way / reach
        self.leave(role)
        middle = here + way * min(0.5 * speed * swing, 0.6 * reach)
        place = self.over(middle, 0.5 * drop * swing)
        self.go(swing, place, velocity=(*(speed * way), -drop), acceleration=(*(0.5 * way), -1.5))
        self.land(role, foot)
        onto = float(role is Role.DRIVE)
        start = self.now
        self.share.value_to(0.85 * onto + 0.15 * (1 - onto))
        # The knee gives for a moment, then the body is slowed along the ground.
        given = 0.14
        sunk = place + np.array([*(0.85 * given * speed * way), -0.45 * given * drop])
        self.go(given, sunk, velocity=(*(0.7 * speed * way), 0.0))
        left = float(np.hypot(*(self.standing()[:2] - sunk[:2])))
        self.go(float(np.clip(2.6 * left / speed, 0.3, 1.0)), self.standing(0.08))
        self.share.ramp(start, start + 0.25)
        self.shift(onto, 0.5)

    def stride_to(
        self, target: tuple[Print, Print], period: float = 0.6, via: Sequence[Array] = ()
    ) -> None:
        """Walk to the stance ``target`` (drive foot, lead foot) through the points ``via``."""
        here = 0.5 * (self.feet[Role.DRIVE].place + self.feet[Role.LEAD].place)
        there = 0.5 * (target[0].place + target[1].place)
        points = [here, *via, there]
        steps: list[tuple[Role, Print]] = []
        # The foot that is farther from there goes first.
        role = max(self.feet, key=lambda r: float(np.hypot(*(self.feet[r].place - points[1]))))
        for start, end in pairwise(points):
            way = end - start
            distance = float(np.hypot(*way))
            count = int(distance / 0.55)
            heading = float(np.arctan2(way[1], way[0]))
            across = 0.09 * np.array([-np.sin(heading), np.cos(heading)])
            for k in range(1, count + 1):
                centre = start + way * (k / (count + 1))
                # Seen from above with a to the arm side, the drive foot is the arm-side foot.
                place = centre + (across if role is Role.DRIVE else -across)
                steps.append((role, Print(float(place[0]), float(place[1]), heading)))
                role = _other(role)
        final = {Role.DRIVE: target[0], Role.LEAD: target[1]}
        steps += [(role, final[role]), (_other(role), final[_other(role)])]
        self.walk(steps, period)

    def build(self) -> tuple[list[Contact], Way]:
        """Return the contacts and the way of the centre of mass; the person stays standing."""
        way = self.course.finish()
        bearer = Bearer(self.body, self.deck, self.side, way, self.share, self.shear)
        for fall in self._falls:
            end = min(fall.end, self.now)
            if end > fall.start:
                self.contacts.append(SharedContact(bearer, fall, self._falls).contact(end))
        return self.contacts, way


def _other(role: Role) -> Role:
    return Role.LEAD if role is Role.DRIVE else Role.DRIVE
