"""Scenes for the set-up check: an empty deck, a known mass at a marked place, somebody standing."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from simulators.body import GRAVITY
from simulators.company import Thing
from simulators.contacts import Contact
from simulators.curves import Array, smooth_step
from simulators.pitcher import WAITING
from simulators.profile import draw_profile
from simulators.stepper import Stepper
from simulators.timeline import Scenario, in_order
from stream.layout import Deck
from stream.roster import Pitcher, Roster

_NOTE = "Invented scene, made by moundfeed simulate. No real person was measured."


def _scene(
    seed: int, what: str, duration: float, contacts: list[Contact], roster: Roster
) -> Scenario:
    return Scenario(seed, f"{_NOTE} {what}", roster, duration, in_order(contacts))


def empty(seed: int, duration: float) -> Scenario:
    """Return a deck with nothing on it for ``duration`` s."""
    return _scene(seed, "Empty deck.", duration, [], Roster())


def mass(
    seed: int, duration: float, mass_kg: float, x: float, y: float, at_s: float = 0.0
) -> Scenario:
    """Return a deck on which ``mass_kg`` stands at (x, y) m from ``at_s`` s on."""
    # Put down before the beginning unless a time is given: 0.25 s is how long it takes.
    start = at_s if at_s > 0 else -1.0
    thing = Thing(mass_kg * GRAVITY, x, y, 0.08, 0.08)
    contact = thing.on_deck(start, duration + 10.0)
    return _scene(seed, f"{mass_kg:g} kg at ({x:g}, {y:g}) m.", duration, [contact], Roster())


def check(
    seed: int, empty_s: float, load_s: float, mass_kg: float, at: tuple[float, float], deck: Deck
) -> Scenario:
    """Return a whole set-up check: empty deck, known mass at ``at`` m, then somebody standing.

    The deck is empty for ``empty_s`` before each load, which stays ``load_s``.
    """
    up = empty_s + load_s
    thing = Thing(mass_kg * GRAVITY, *at, 0.08, 0.08).on_deck(empty_s, up)
    there, person = _person(seed, load_s, deck)
    contacts = [thing, *(_stepping_on(c.later(up + empty_s), load_s) for c in there)]
    what = f"{mass_kg:g} kg at ({at[0]:g}, {at[1]:g}) m, then {person.what}"
    return _scene(seed, what, 2 * up + empty_s, contacts, person.roster)


def standing(seed: int, duration: float, deck: Deck) -> Scenario:
    """Return a pitcher who stands on the level part behind the rubber for ``duration`` s."""
    there, person = _person(seed, duration, deck)
    early = [contact.later(-1.0) for contact in there]
    return _scene(seed, person.what, duration, early, person.roster)


def _stepping_on(contact: Contact, seconds: float) -> Contact:
    """Return ``contact`` loaded and unloaded within half a second, over ``seconds``."""
    start, end, force = contact.start, contact.start + seconds, contact.force

    def loaded(t: Array) -> Array:
        share = smooth_step((t - start) / 0.5) * smooth_step((end - t) / 0.5)
        return share[:, None] * force(t)

    return replace(contact, end=end, force=loaded)


class _Person(NamedTuple):
    what: str
    roster: Roster


def _person(seed: int, duration: float, deck: Deck) -> tuple[list[Contact], _Person]:
    rng = np.random.default_rng([seed, 1])
    profile = draw_profile(rng, "P01")
    person = Stepper(profile.body, deck, profile.side, WAITING, profile.sway)
    person.stand(duration + 2.0)
    contacts, _ = person.build()
    roster = Roster((Pitcher("P01", profile.throws, round(profile.body.height_m, 2)),))
    return contacts, _Person(f"P01 ({profile.body.mass_kg:.1f} kg) stands.", roster)
