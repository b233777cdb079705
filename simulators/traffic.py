"""Everything that happens on a mound beside pitches.

Each function builds one movement of one person, from rest to rest, on its own
time line. Who is the pitcher begins and ends where a pitcher waits, behind the
rubber, unless he walks on or off.
"""

from __future__ import annotations

import numpy as np

from simulators.movement import Movement
from simulators.pitcher import WAITING
from simulators.profile import Profile
from simulators.stepper import Print, Stepper
from stream.layout import Deck

#: Beside the deck, where people come from and go to (drive foot, lead foot).
BESIDE = (Print(-0.6, 1.45), Print(-0.6, 1.25))


def _person(profile: Profile, deck: Deck, stance: tuple[Print, Print] = WAITING) -> Stepper:
    return Stepper(profile.body, deck, profile.side, stance, profile.sway)


def _done(name: str, person: Stepper) -> Movement:
    contacts, _ = person.build()
    return Movement(name, person.now, tuple(contacts))


def walk_on(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Come onto the deck from beside it."""
    person = _person(profile, deck, BESIDE)
    person.stride_to(WAITING, period=rng.uniform(0.52, 0.66))
    return _done("walk_on", person)


def walk_off(rng: np.random.Generator, profile: Profile, deck: Deck) -> Movement:
    """Leave the deck to the side."""
    person = _person(profile, deck)
    person.stride_to(BESIDE, period=rng.uniform(0.52, 0.66))
    return _done("walk_off", person)


def wait(rng: np.random.Generator, profile: Profile, deck: Deck, duration: float) -> Movement:
    """Stand behind the rubber, now and then shifting the weight."""
    person = _person(profile, deck)
    until = duration - 1.0
    while person.now < until:
        person.stand(float(np.clip(rng.exponential(3.0), 0.6, max(until - person.now, 0.6))))
        if rng.random() < 0.6 and person.now < until:
            person.shift(rng.uniform(0.3, 0.7), rng.uniform(0.5, 0.9))
    person.shift(0.5, 0.6)
    return _done("wait", person)
