"""Movements that resemble a delivery and are none: drills, step-offs, throws to a base."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulators.contacts import Role
from simulators.movement import Movement
from simulators.pitcher import WAITING
from simulators.profile import Profile
from simulators.stepper import Stepper
from simulators.support import Print
from simulators.traffic import done, person
from stream.layout import Deck
from stream.outputs import NotCountedReason

_ALONG = np.pi / 2 - 0.05


def _set_position(rng: np.random.Generator, profile: Profile, deck: Deck) -> Stepper:
    """Come set from the stretch, and hold it."""
    p = person(profile, deck)
    a = profile.traits["rubber_place"]
    lead = Print(0.05 + profile.traits["set_spread"], a + 0.02, _ALONG - 0.25)
    p.stride_to((Print(0.05, a, _ALONG), lead), period=0.75)
    p.shift(profile.traits["set_share"], 0.6)
    p.rest(0.4)
    p.stand(rng.uniform(1.3, 3.0))
    return p


def _back(name: str, p: Stepper, time: float, reason: NotCountedReason) -> Movement:
    p.stride_to(WAITING, period=0.6)
    p.rest()
    return replace(done(name, p), like=(time, reason))


def balance_drill(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Lift the lead knee, hold, sometimes hop on the spot, put the foot down again."""
    p = _set_position(rng, profile, deck)
    lead = p.feet[Role.LEAD]
    p.shift(1.0, rng.uniform(0.6, 0.9))
    p.leave(Role.LEAD)
    time = p.now
    p.go(0.45, p.standing(-0.05))
    p.stand(rng.uniform(1.0, 4.0), crouch=-0.05)
    p.go(0.3, p.standing())
    if rng.random() < 0.35:
        p.spring(rng.uniform(0.6, 1.1), np.array([rng.uniform(-0.04, 0.06), 0.0]), crouch=0.07)
    if rng.random() < 0.5:
        lead = replace(lead, x=lead.x + rng.uniform(0.0, 0.3))
    p.land(Role.LEAD, lead)
    p.shift(0.5, rng.uniform(0.5, 0.9))
    p.stand(rng.uniform(0.5, 2.0))
    return _back("balance_drill", p, time, NotCountedReason.NO_LANDING)


def step_off(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Come set, then take the drive foot off the rubber backwards."""
    p = _set_position(rng, profile, deck)
    time = p.now
    back = Print(rng.uniform(-0.40, -0.25), p.feet[Role.DRIVE].a + rng.normal(0.0, 0.08), 0.6)
    front = Print(rng.uniform(0.05, 0.25), p.feet[Role.LEAD].a, 0.4)
    steps = [(Role.DRIVE, back)] + ([(Role.LEAD, front)] if rng.random() < 0.5 else [])
    p.walk(steps, period=rng.uniform(0.40, 0.60))
    p.stand(rng.uniform(0.6, 3.0))
    return _back("step_off", p, time, NotCountedReason.STEP_OFF)


def throw_over(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Throw to first or third base: pivot or jump turn, step towards the base, throw."""
    return _base_throw(rng, profile, deck, "throw_over", 1.0)


def pickoff_fake(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Feint a throw to a base: the same step, less of it."""
    return _base_throw(rng, profile, deck, "pickoff_fake", 0.6)


def _base_throw(
    rng: np.random.Generator, profile: Profile, deck: Deck, name: str, effort: float
) -> Movement:
    p = _set_position(rng, profile, deck)
    time = p.now
    # First base is at +y, third at -y; in (x, a) that depends on the hand.
    a_of_base = profile.side * float(rng.choice([1.0, -1.0]))
    if rng.random() < 0.4:
        p.shift(0.5, 0.25)
        p.spring(0.55 + 0.2 * effort * rng.random(), np.array([0.0, 0.0]), crouch=0.06)
    p.shift(1.0, rng.uniform(0.30, 0.42), lean=0.35)
    drive = p.feet[Role.DRIVE]
    reach = rng.uniform(0.55, 0.85)
    lead = Print(drive.x + rng.uniform(0.0, 0.25), drive.a + reach * a_of_base, a_of_base * 1.3)
    p.lunge(
        Role.LEAD, lead, speed=effort * rng.uniform(1.0, 1.7), drop=effort * rng.uniform(0.2, 0.5),
        swing=rng.uniform(0.32, 0.42),
    )  # fmt: skip
    follow = Print(lead.x - 0.1, lead.a - 0.25 * a_of_base, a_of_base * 1.3)
    p.walk([(Role.DRIVE, follow)], period=0.45)
    p.stand(rng.uniform(0.6, 2.0))
    return _back(name, p, time, NotCountedReason.THROW_OVER)


def throw_to_second(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """The inside move: lift the knee, turn on the drive foot, step towards second base."""
    p = _set_position(rng, profile, deck)
    time = p.now
    p.shift(1.0, rng.uniform(0.5, 0.7), rise=0.03)
    drive = p.feet[Role.DRIVE]
    lead = Print(drive.x - rng.uniform(0.6, 0.85), drive.a - rng.normal(0.1, 0.08), np.pi)
    p.lunge(
        Role.LEAD, lead, speed=rng.uniform(0.9, 1.5), drop=rng.uniform(0.2, 0.45),
        swing=rng.uniform(0.40, 0.55),
    )  # fmt: skip
    p.walk([(Role.DRIVE, Print(lead.x + 0.2, lead.a + 0.3, np.pi))], period=0.5)
    p.stand(rng.uniform(0.6, 2.0))
    return _back("throw_to_second", p, time, NotCountedReason.THROW_OVER)


def stride_drill(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Lift, stride forward softly without a throw, hold, go back."""
    p = _set_position(rng, profile, deck)
    p.shift(1.0, rng.uniform(0.6, 0.9))
    drive = p.feet[Role.DRIVE]
    time = p.now
    stride = profile.body.height_m * rng.uniform(0.38, 0.60)
    lead = Print(drive.x + stride, drive.a + rng.normal(0.0, 0.05), 0.3)
    p.lunge(
        Role.LEAD, lead, speed=rng.uniform(0.5, 1.05), drop=rng.uniform(0.1, 0.3),
        swing=rng.uniform(0.50, 0.80),
    )  # fmt: skip
    p.stand(rng.uniform(0.5, 2.0))
    p.shift(0.5, 0.8)
    return _back("stride_drill", p, time, NotCountedReason.NO_LANDING)


def hop_drill(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Stand on the drive leg and hop forward off it, landing on the same leg."""
    p = _set_position(rng, profile, deck)
    p.shift(1.0, rng.uniform(0.6, 0.9))
    p.leave(Role.LEAD)
    time = p.now
    for _ in range(int(rng.integers(1, 3))):
        p.spring(rng.uniform(0.7, 1.2), np.array([rng.uniform(0.15, 0.35), 0.0]))
    drive = p.feet[Role.DRIVE]
    p.land(Role.LEAD, Print(drive.x + 0.25, drive.a, 0.3))
    p.shift(0.5, 0.6)
    p.stand(rng.uniform(0.6, 1.5))
    return _back("hop_drill", p, time, NotCountedReason.NO_LANDING)
