"""One whole pitch: approach, quiet set, lift, push-off, landing, step-through, walk back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PPoly

from simulators.body import GRAVITY
from simulators.contacts import Contact, OfTime, Role
from simulators.curves import Array, Way, through
from simulators.delivery import END_S, TOUCH_S, Curves, delivery_curves
from simulators.profile import Draw, Profile, Style
from simulators.stepper import Stepper
from simulators.support import TWIST, Print
from stream.layout import Deck

#: Where a pitcher waits: behind the rubber, facing home (drive foot, lead foot).
WAITING = (Print(-0.27, 0.13), Print(-0.27, -0.13))
_DRIVE_X = 0.05  # middle of a foot that lies along the front edge of the rubber


@dataclass(frozen=True, eq=False)
class Delivery:
    """One pitch on its own time line (s from its start), in the mound frame.

    ``contact`` is when the lead foot's force begins to count (10 % of body
    weight, by construction); ``quiet`` the span of quiet standing; ``push`` when
    the explicit curves of the push begin; ``drive_end`` when the drive foot has
    left the rubber and ended its drag.
    """

    profile: Profile
    draw: Draw
    contacts: tuple[Contact, ...]
    way: Way
    end: float
    quiet: tuple[float, float]
    push: float
    contact: float
    drive_end: float


def pitch(rng: np.random.Generator, profile: Profile, draw: Draw, deck: Deck) -> Delivery:
    """Build a pitch that begins and ends at rest behind the rubber."""
    traits, body = draw.traits, profile.body
    person = Stepper(body, deck, profile.side, WAITING, profile.sway)
    curves = delivery_curves(traits, draw.style is Style.SLIDE_STEP)
    if draw.style is Style.WINDUP:
        quiet = _windup(rng, person, traits, curves)
    else:
        quiet = _stretch(rng, person, draw, curves)
    contact = person.now - curves.start
    _explode(person, traits, curves, contact)
    _recover(rng, person)
    _walk_back(rng, person)
    contacts, way = person.build()
    return Delivery(
        profile,
        draw,
        tuple(contacts),
        way,
        person.now,
        quiet,
        contact + curves.start,
        contact,
        contact + curves.drive_end,
    )


def _windup(
    rng: np.random.Generator, person: Stepper, traits: dict[str, float], curves: Curves
) -> tuple[float, float]:
    """Both feet on the level part, a rocker step, the drive foot turned along the rubber, lift."""
    place = traits["rubber_place"]
    drive = Print(-0.02, place + 0.12, rng.normal(0.1, 0.05))
    lead = Print(-0.03, place - 0.14, rng.normal(0.0, 0.05))
    person.stride_to((drive, lead), period=0.75)
    quiet = _set(rng, person)
    back = Print(-0.20 - 0.08 * rng.random(), place - 0.22 - 0.12 * rng.random(), 0.0)
    turned = Print(_DRIVE_X, place, np.pi / 2 - 0.1)
    person.walk(
        [(Role.LEAD, back), (Role.DRIVE, turned)],
        period=rng.uniform(0.70, 0.85),
        settle=1.0,
        settle_s=rng.uniform(0.55, 0.75),
    )
    _lift(person, traits, curves, rng.uniform(0.35, 0.5))
    return quiet


def _stretch(
    rng: np.random.Generator, person: Stepper, draw: Draw, curves: Curves
) -> tuple[float, float]:
    """Lead foot on the slope with about half the weight; then the lift, or the slide step."""
    traits, slide = draw.traits, draw.style is Style.SLIDE_STEP
    place = traits["rubber_place"]
    spread = traits["set_spread"] + (0.08 if slide else 0.0)
    drive = Print(_DRIVE_X, place, np.pi / 2 - 0.05)
    lead = Print(_DRIVE_X + spread, place + rng.normal(0.02, 0.04), np.pi / 2 - 0.3)
    person.stride_to((drive, lead), period=0.75)
    share = traits["set_share"] + (0.12 if slide else 0.0)
    person.shear.to(person.now, person.now + 0.6, float(rng.uniform(0.005, 0.045)))
    person.shift(share, 0.6)
    quiet = _set(rng, person)
    if slide:
        start = person.now
        person.share.to(start, start + 0.24, 1.0)
        _reach_start(person, curves, 0.30, person.course.position[0] + 0.012, 0.0)
        _lift_off(person, start + 0.26)
    else:
        person.shift(1.0, rng.uniform(0.7, 1.0))
        _lift(person, traits, curves, rng.uniform(0.35, 0.5))
    return quiet


def _set(rng: np.random.Generator, person: Stepper) -> tuple[float, float]:
    """Come to the set position and hold it; return the span of quiet standing."""
    person.rest(0.5)
    begin = person.now
    person.stand(rng.uniform(1.7, 3.0))
    return begin + 0.3, person.now


def _lift(person: Stepper, traits: dict[str, float], curves: Curves, duration: float) -> None:
    """Lift the lead knee; at the end the body starts to move home."""
    person.leave(Role.LEAD)
    x = person.feet[Role.DRIVE].x + 0.03
    _reach_start(person, curves, duration, x, traits["lift_rise"])


def _lift_off(person: Stepper, time: float) -> None:
    now, person.now = person.now, time
    person.leave(Role.LEAD)
    person.now = now


def _reach_start(person: Stepper, curves: Curves, duration: float, x: float, rise: float) -> None:
    """Reach the state in which the explicit curves begin."""
    drive = person.feet[Role.DRIVE]
    place = person.over(np.array([x, drive.a]), -rise)
    creep = float(curves.drive[0](curves.start)) * GRAVITY
    person.go(duration, place, velocity=(curves.speed, 0.0, 0.0), acceleration=(creep, 0.0, 0.0))


def _explode(person: Stepper, traits: dict[str, float], curves: Curves, contact: float) -> None:
    """Push-off, flight of the lead foot, landing and braking, by the explicit curves."""
    body, drive = person.body, person.feet[Role.DRIVE]
    person.leave(Role.DRIVE)
    stride = traits["stride"] * body.height_m
    angle = np.radians(traits["stride_angle"])
    half = body.foot_half_m[0]
    heel, ball = -0.75 * half, 0.55 * half
    # The stride is measured where the pressure is at foot plant: about the heel.
    planted = heel + 0.3 * (ball - heel)
    yaw = 0.25 * float(angle) + 0.12
    lead = Print(
        float(stride - planted * np.cos(yaw)),
        float(drive.a + stride * np.tan(angle) - planted * np.sin(yaw)),
        yaw,
    )
    roll = through((-TOUCH_S, heel), (0.0, heel), (0.13, ball), (0.30, ball), (END_S, 0.3 * half))
    drag = traits["drag"] * 6.0 if curves.drag else 0.0
    off = curves.toe_off
    slip = through(
        (curves.start, 0.0), (-0.15, 0.015), (min(0.0, off - 0.01), 0.035), (off, 0.05),
        (off + 0.015, 0.055), (curves.drive_end + 0.001, 0.06 + drag),
    )  # fmt: skip
    toe = through((curves.start, 0.0), (-0.15, 0.5 * half), (0.0, 0.9 * half), (END_S, 0.9 * half))

    def drive_pressure(t: Array) -> Array:
        s = t - contact
        along = toe(s)
        place = np.column_stack(
            [drive.x + slip(s) + along * np.cos(drive.yaw), drive.a + along * np.sin(drive.yaw)]
        )
        return np.asarray(place * (1.0, person.side))

    def lead_pressure(t: Array) -> Array:
        along = roll(t - contact)[:, None]
        place = lead.place + along * np.array([np.cos(yaw), np.sin(yaw)])
        return np.asarray(place * (1.0, person.side))

    for role, forces, pressure, start, end in (
        (Role.DRIVE, curves.drive, drive_pressure, curves.start, curves.drive_end),
        (Role.LEAD, curves.lead, lead_pressure, -TOUCH_S, END_S),
    ):
        person.contacts.append(
            Contact(
                role=role,
                start=contact + start,
                end=contact + end,
                force=_scaled(forces, contact, body.weight_n, person.side),
                pressure=pressure,
                half_x=0.05,
                half_y=0.05,
                twist=TWIST * person.side * (1 if role is Role.DRIVE else -1),
            )
        )
    person.course.driven(contact + END_S, _accelerations(curves, contact))
    person.now = contact + END_S
    person.share.to(contact, person.now, 0.0)
    person.land(Role.LEAD, lead, 0.3 * half * np.array([np.cos(yaw), np.sin(yaw)]))


def _scaled(forces: tuple[PPoly, PPoly, PPoly], contact: float, weight: float, side: int) -> OfTime:
    def force(t: Array) -> Array:
        s = t - contact
        x, a, z = (curve(s) for curve in forces)
        return np.asarray(weight * np.column_stack([x, side * a, z]))

    return force


def _accelerations(curves: Curves, contact: float) -> tuple[PPoly, PPoly, PPoly]:
    """The body's acceleration, m/s^2, under both legs' forces and gravity."""
    axes = []
    for drive, lead, gravity in zip(curves.drive, curves.lead, (0.0, 0.0, 1.0), strict=True):
        breaks = np.unique(np.concatenate([drive.x, lead.x]))
        breaks = breaks[np.concatenate([[True], np.diff(breaks) > 1e-9])]
        rows = np.zeros((4, breaks.size - 1))
        for curve in (drive, lead):
            middles = 0.5 * (breaks[:-1] + breaks[1:])
            inside = (middles > curve.x[0]) & (middles < curve.x[-1])
            for k, factorial in enumerate((1.0, 1.0, 2.0, 6.0)):
                rows[3 - k] += inside * curve(breaks[:-1], k) / factorial
        rows[3] -= gravity
        axes.append(PPoly(GRAVITY * rows, breaks + contact))
    return axes[0], axes[1], axes[2]


def _recover(rng: np.random.Generator, person: Stepper) -> None:
    """The drive foot steps through in front; the body comes to rest over both feet."""
    course, lead = person.course, person.feet[Role.LEAD]
    p, v = course.position.copy(), course.velocity.copy()
    fall = rng.uniform(0.10, 0.20)
    sink = min(float(v[2]), 0.1) - 2.2 * fall
    slower = 1.0 - 0.6 * fall
    middle = p + np.array([0.97 * v[0] * fall, 0.97 * v[1] * fall, 0.5 * (v[2] + sink) * fall])
    speed = np.array([slower * v[0], slower * v[1], sink])
    person.go(fall, middle, velocity=speed, acceleration=(-1.2 * v[0], -1.2 * v[1], -2.0))
    rest = rng.uniform(0.60, 0.80)
    stop = middle[:2] + 0.42 * rest * speed[:2] + np.array([0.0, 0.06])
    # Where the foot must come down for the body to stop between the feet.
    away = stop - lead.place
    share = float(np.clip(np.hypot(*away) / 0.7, 0.4, 0.8))
    ahead = lead.place + away / share
    person.land(Role.DRIVE, Print(float(ahead[0]), float(ahead[1]), rng.normal(0.2, 0.15)))
    person.share.to(person.now, person.now + 0.22, share)
    upright = person.standing()
    low = upright[2] - float(np.clip(middle[2] + 0.5 * sink * rest * 0.75, 0.0, None))
    crouch = float(np.clip(low, 0.02, 0.22))
    person.go(rest, person.standing(crouch))
    person.go(rng.uniform(0.6, 1.0), person.standing())
    person.stand(rng.uniform(0.6, 2.0))


def _walk_back(rng: np.random.Generator, person: Stepper) -> None:
    """Back behind the rubber: most straight up the slope, some round the deck."""
    via: list[Array] = []
    if rng.random() < 0.25:
        beside = float(rng.choice([-1.0, 1.0])) * rng.uniform(1.0, 1.3)
        via = [np.array([1.2, beside]), np.array([0.0, beside])]
    person.stride_to(WAITING, period=rng.uniform(0.52, 0.66), via=via)
    person.rest()
