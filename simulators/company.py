"""What others do on the deck while the pitcher waits, and the things they leave there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulators import traffic
from simulators.body import Sway
from simulators.contacts import Contact, Role
from simulators.curves import Array, smooth_step
from simulators.movement import Movement
from simulators.profile import Profile, draw_body
from simulators.stepper import Stepper
from simulators.support import Print
from stream.layout import Deck


def _somebody(rng: np.random.Generator, deck: Deck, x: float, y: float) -> Stepper:
    """Another person, standing at (x, y) m."""
    feet = (Print(x, y + 0.1), Print(x, y - 0.1))
    return Stepper(draw_body(rng, wide=True), deck, 1, feet, Sway.draw(rng))


def _stance(x: float, y: float, yaw: float = 0.0) -> tuple[Print, Print]:
    return Print(x, y + 0.1, yaw), Print(x, y - 0.1, yaw)


def _beside_waiting(
    rng: np.random.Generator, profile: Profile, deck: Deck, other: Stepper, name: str
) -> Movement:
    """The pitcher waits behind the rubber as long as ``other`` is busy."""
    contacts, _ = other.build()
    waiting = traffic.wait(rng, profile, deck, other.now + 1.5)
    mine = [replace(c, role=Role.OTHER).later(0.3) for c in contacts]
    return Movement(name, waiting.end, (*waiting.contacts, *mine))


def visit(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """A catcher or coach comes up for a word, stands in front of the pitcher, and goes."""
    y = float(rng.choice([-1.0, 1.0])) * rng.uniform(1.1, 1.5)
    other = _somebody(rng, deck, rng.uniform(1.0, 2.2), y)
    start = _stance(*(0.5 * (other.feet[Role.DRIVE].place + other.feet[Role.LEAD].place)))
    other.stride_to(_stance(rng.uniform(0.35, 0.8), rng.normal(0.0, 0.15), np.pi))
    other.stand(rng.uniform(2.0, 8.0))
    other.stride_to(start)
    return _beside_waiting(rng, profile, deck, other, "visit")


def crossing(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Somebody walks across the deck."""
    side = float(rng.choice([-1.0, 1.0]))
    x = rng.uniform(0.5, 2.3)
    other = _somebody(rng, deck, x, 1.5 * side)
    other.stride_to(_stance(x + rng.normal(0.0, 0.2), -1.5 * side), period=rng.uniform(0.5, 0.62))
    return _beside_waiting(rng, profile, deck, other, "crossing")


def foot_on_deck(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Somebody beside the deck rests a foot on its edge."""
    side = float(rng.choice([-1.0, 1.0]))
    x = rng.uniform(0.0, 2.2)
    edge = deck.half_width
    feet = (Print(x, (edge + 0.35) * side), Print(x + 0.2, (edge + 0.35) * side))
    other = Stepper(draw_body(rng, wide=True), deck, 1, feet, Sway.draw(rng))
    other.walk([(Role.LEAD, Print(x + 0.2, (edge - 0.12) * side))], 0.6, settle=0.8)
    other.stand(rng.uniform(2.0, 8.0))
    other.rest()
    other.walk([(Role.LEAD, feet[1])], period=0.6)
    return _beside_waiting(rng, profile, deck, other, "foot_on_deck")


def rake(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Somebody rakes the landing area: steps about, and the rake presses lightly."""
    y = float(rng.choice([-1.0, 1.0])) * 1.3
    other = _somebody(rng, deck, 1.8, y)
    other.stride_to(_stance(1.9, 0.3 * np.sign(y), np.pi))
    for _ in range(int(rng.integers(2, 5))):
        start, duration = other.now, float(rng.uniform(2.0, 4.0))
        other.stand(duration)
        other.contacts.append(_strokes(rng, start, duration, float(rng.uniform(0.9, 1.5))))
        other.rest()
        here = other.feet[Role.DRIVE]
        there = here.x + rng.normal(0.0, 0.15), here.a - 0.1 + rng.normal(0.0, 0.15)
        other.stride_to(_stance(*there, np.pi), period=0.7)
    other.stride_to(_stance(1.8, y))
    return _beside_waiting(rng, profile, deck, other, "rake")


def _strokes(rng: np.random.Generator, start: float, duration: float, x: float) -> Contact:
    """A rake drawn to and fro: some tens of newtons, its drag along x."""
    press, turn = rng.uniform(15.0, 60.0), 2 * np.pi * rng.uniform(0.6, 1.1)
    y = float(rng.normal(0.0, 0.2))

    def force(t: Array) -> Array:
        s = (t - start) / duration
        window = smooth_step(s / 0.1) * smooth_step((1.0 - s) / 0.1)
        down = press * window * (0.6 + 0.4 * np.cos(turn * (t - start)))
        return np.column_stack([0.6 * down * np.sin(turn * (t - start)), 0.0 * down, down])

    def place(t: Array) -> Array:
        return np.column_stack([x + 0.35 * np.cos(turn * (t - start)), np.full(t.size, y)])

    return Contact(Role.OTHER, start, start + duration, force, place, 0.02, 0.18)


@dataclass(frozen=True, slots=True)
class Thing:
    """A bucket, a rolled tarp or the like: weight in N, place in m, half its size in m."""

    weight_n: float
    x: float
    y: float
    half_x: float
    half_y: float

    def on_deck(self, start: float, end: float) -> Contact:
        """Return it as a contact that is put down in 0.25 s and taken up in 0.25 s."""

        def force(t: Array) -> Array:
            load = smooth_step((t - start) / 0.25) * smooth_step((end - t) / 0.25)
            return np.column_stack([0.0 * load, 0.0 * load, self.weight_n * load])

        def place(t: Array) -> Array:
            return np.tile([self.x, self.y], (t.size, 1))

        return Contact(Role.OTHER, start, end, force, place, self.half_x, self.half_y)


def draw_thing(rng: np.random.Generator, deck: Deck) -> Thing:
    """Draw a thing near an edge of the deck, where it does not hinder the pitch."""
    y = float(rng.choice([-1.0, 1.0])) * (deck.half_width - 0.16)
    x = float(rng.uniform(0.4, deck.front - 0.3))
    if rng.random() < 0.6:
        return Thing(float(rng.uniform(40.0, 160.0)), x, y, 0.13, 0.13)  # a bucket of balls
    return Thing(float(rng.uniform(60.0, 300.0)), x, y, 0.25, 0.12)  # a rolled tarp


def handle(
    rng: np.random.Generator, profile: Profile, deck: Deck, thing: Thing
) -> tuple[Movement, float]:
    """Somebody comes to put ``thing`` down or take it up; return also when it changes hands."""
    side = float(np.sign(thing.y))
    other = _somebody(rng, deck, thing.x - 0.5, 1.6 * side)
    other.stride_to(_stance(thing.x - 0.35, thing.y - 0.1 * side), period=0.65)
    other.go(0.7, other.standing(0.25))
    moment = other.now + 0.3
    other.go(0.8, other.standing())
    other.stride_to(_stance(thing.x - 0.5, 1.6 * side), period=0.65)
    return _beside_waiting(rng, profile, deck, other, "thing"), moment + 0.3
