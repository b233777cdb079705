"""What a pitcher does on a mound beside pitching.

Each function builds one movement, from rest to rest, on its own time line. It
begins and ends where a pitcher waits, behind the rubber, unless he walks on or
off. What resembles a delivery is in simulators.moves, what others do in
simulators.company.
"""

from __future__ import annotations

import numpy as np

from simulators.body import GRAVITY
from simulators.contacts import Contact, Role
from simulators.curves import Array, smooth_step
from simulators.movement import Movement
from simulators.pitcher import WAITING
from simulators.profile import Profile
from simulators.stepper import Stepper
from simulators.support import Print
from stream.layout import Deck

#: Beside the deck, where people come from and go to (drive foot, lead foot).
BESIDE = (Print(-0.6, 1.45), Print(-0.6, 1.25))


def person(profile: Profile, deck: Deck, stance: tuple[Print, Print] = WAITING) -> Stepper:
    """Return the pitcher, standing still."""
    return Stepper(profile.body, deck, profile.side, stance, profile.sway)


def done(name: str, stepper: Stepper) -> Movement:
    """Return what ``stepper`` did as a movement."""
    contacts, _ = stepper.build()
    return Movement(name, stepper.now, tuple(contacts))


def walk_on(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Come onto the deck from beside it."""
    p = person(profile, deck, BESIDE)
    p.stride_to(WAITING, period=rng.uniform(0.52, 0.66))
    return done("walk_on", p)


def walk_off(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Leave the deck to the side."""
    p = person(profile, deck)
    p.stride_to(BESIDE, period=rng.uniform(0.52, 0.66))
    return done("walk_off", p)


def wait(rng: np.random.Generator, profile: Profile, deck: Deck, duration: float) -> Movement:
    """Stand behind the rubber, now and then shifting the weight."""
    p = person(profile, deck)
    until = duration - 1.0
    while p.now < until:
        p.stand(float(np.clip(rng.exponential(3.0), 0.6, max(until - p.now, 0.6))))
        if rng.random() < 0.6 and p.now < until:
            p.shift(rng.uniform(0.3, 0.7), rng.uniform(0.5, 0.9))
    p.shift(0.5, 0.6)
    return done("wait", p)


def groom(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Scrape the ground before the rubber, or where he lands, with the spikes of one foot."""
    p = person(profile, deck)
    x = float(rng.choice([0.12, 0.85 * profile.body.height_m])) + rng.normal(0.0, 0.05)
    a = float(rng.normal(0.0, 0.1))
    p.stride_to((Print(x, a + 0.15, 0.3), Print(x - 0.05, a - 0.15, -0.2)))
    for _ in range(int(rng.integers(1, 4))):
        on_drive = bool(rng.random() < 0.5)
        p.shift(0.86 if on_drive else 0.14, 0.5)
        _scrape(rng, p, Role.LEAD if on_drive else Role.DRIVE)
    p.shift(0.5, 0.5)
    p.stride_to(WAITING)
    return done("groom", p)


def _scrape(rng: np.random.Generator, p: Stepper, role: Role) -> None:
    """Strokes of one foot; the other holds against them, so the body stays where it is."""
    start, duration = p.now, float(rng.uniform(1.2, 3.0))
    p.stand(duration)
    p.rest()
    force = rng.uniform(0.04, 0.12) * p.body.weight_n
    turn = 2 * np.pi * rng.uniform(1.0, 1.8)
    direction = rng.normal(0.0, 1.0, 2)
    direction /= np.hypot(*direction)

    def stroke(t: Array, sign: float) -> Array:
        s = (t - start) / duration
        window = smooth_step(s / 0.2) * smooth_step((1.0 - s) / 0.2)
        along = sign * force * window * np.sin(turn * (t - start))
        return np.column_stack([along * direction[0], along * direction[1], np.zeros_like(t)])

    for foot, sign in ((role, 1.0), (Role.LEAD if role is Role.DRIVE else Role.DRIVE, -1.0)):
        x, a = p.feet[foot].place
        y = p.side * a

        def force_of(t: Array, sign: float = sign) -> Array:
            return stroke(t, sign)

        def place_of(t: Array, x: float = x, y: float = y) -> Array:
            return np.tile([x, y], (t.size, 1))

        p.contacts.append(Contact(foot, start, start + duration, force_of, place_of, 0.06, 0.06))


def stretch_out(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Stretch: lean to both sides, bend down and up."""
    p = person(profile, deck)
    p.stride_to((Print(-0.25, 0.42, 0.2), Print(-0.25, -0.42, -0.2)), period=0.8)
    for _ in range(int(rng.integers(1, 3))):
        for share in (0.82, 0.18):
            p.shift(share, rng.uniform(0.8, 1.4), rise=-0.10)
            p.stand(rng.uniform(0.8, 2.5), crouch=0.10)
    p.shift(0.5, 1.0)
    for _ in range(int(rng.integers(1, 4))):
        p.go(rng.uniform(0.6, 1.0), p.standing(rng.uniform(0.15, 0.3)))
        p.go(rng.uniform(0.6, 1.0), p.standing())
    p.stride_to(WAITING, period=0.7)
    return done("stretch_out", p)


def warm_up_jumps(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """A few small jumps on the spot."""
    p = person(profile, deck)
    for _ in range(int(rng.integers(2, 5))):
        p.spring(rng.uniform(0.8, 1.8), np.zeros(2))
    p.rest()
    return done("warm_up_jumps", p)


def jog_off(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Run down the slope and off the deck towards home."""
    p = person(profile, deck)
    p.share.to(p.now, p.now + 0.3, 1.0)
    start = p.feet[Role.DRIVE].place
    speed = float(rng.uniform(2.2, 3.2))
    up = float(rng.uniform(0.45, 0.75))
    p.go(0.35, p.over(start + np.array([0.08, -0.08]), 0.05), velocity=(0.5, 0.0, 0.0))
    p.leave(Role.LEAD)
    role = Role.DRIVE
    pace = 0.5
    while p.course.position[0] < deck.front + 1.0:
        pace = min(pace + 0.9, speed)
        role = _run_step(p, role, pace, up)
    p.rest(0.01 + 0.6)
    return done("jog_off", p)


def _run_step(p: Stepper, role: Role, speed: float, up: float) -> Role:
    """Push off with ``role``, fly, land on the other foot; return it."""
    contact, flight = 0.24, 2.0 * up / GRAVITY
    weightless = (0.0, 0.0, -GRAVITY)
    slope = -p.deck.fall_per_m * speed if p.course.position[0] > p.deck.front_of_level else 0.0
    now = p.course.position
    forward = 0.5 * (p.course.velocity[0] + speed) * contact
    p.go(contact, p.over(now[:2] + np.array([forward, 0.0])), velocity=(speed, 0.0, up + slope),
         acceleration=weightless)  # fmt: skip
    p.leave(role)
    other = Role.LEAD if role is Role.DRIVE else Role.DRIVE
    place = p.course.position + np.array([speed * flight, 0.0, slope * flight])
    p.go(flight, place, velocity=(speed, 0.0, slope - up), acceleration=weightless)
    a = float(p.course.position[1]) + (0.05 if other is Role.DRIVE else -0.05)
    p.share.to(p.now - 0.02, p.now - 0.001, float(other is Role.DRIVE))
    p.land(other, Print(float(p.course.position[0]) + 0.5 * speed * contact, a))
    return other
