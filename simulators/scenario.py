"""Invented sessions: a seed gives pitchers, pitches and everything between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from simulators import company, moves, traffic
from simulators.contacts import Contact
from simulators.movement import Movement
from simulators.pitcher import pitch
from simulators.profile import Draw, Profile, Style, draw_pitch, draw_profile
from simulators.timeline import Chosen, NotAPitch, Scenario, SpeedTold, Thrown, in_order
from stream.layout import Deck
from stream.roster import Pitcher, Roster

Activity = Callable[[np.random.Generator, Profile, Deck], Movement]

NOTE = (
    "Invented session of invented pitchers, made by moundfeed simulate. "
    "No real person was measured."
)


#: What may happen between two pitches, and how often against one another.
_BETWEEN: tuple[tuple[Activity, float], ...] = (
    (traffic.groom, 4.0),
    (traffic.stretch_out, 1.0),
    (traffic.warm_up_jumps, 0.5),
    (traffic.jog_off, 0.5),
    (moves.balance_drill, 2.0),
    (moves.step_off, 2.0),
    (moves.throw_over, 2.0),
    (moves.throw_to_second, 1.0),
    (moves.pickoff_fake, 1.0),
    (moves.stride_drill, 1.0),
    (moves.hop_drill, 1.0),
    (company.visit, 1.5),
    (company.crossing, 1.0),
    (company.foot_on_deck, 1.0),
    (company.rake, 1.0),
)


@dataclass(frozen=True, slots=True)
class Plan:
    """What a session shall hold.

    ``pitches`` in all, thrown in turns by ``pitchers``; ``styles`` to draw
    from; ``traffic``: share of the gaps between pitches with another movement
    (0 to 1); ``things``: share with a bucket or tarp put down, to be taken up
    some pitches later; ``traffic_s``: so many seconds of nothing but other
    movements at the end; ``wide``: bodies from 45 to 130 kg; ``quick``: short pauses;
    ``speeds_missing``: share of ball speeds never told. ``day``: another number
    gives another session of the same pitchers.
    """

    seed: int
    pitches: int
    pitchers: int = 3
    styles: Sequence[Style] = tuple(Style)
    traffic: float = 0.5
    things: float = 0.08
    traffic_s: float = 0.0
    wide: bool = False
    quick: bool = False
    speeds_missing: float = 0.03
    empty_s: float = 6.0
    day: int | None = None


def compose(plan: Plan, deck: Deck) -> Scenario:
    """Return the session of ``plan`` on ``deck``; equal plans give equal sessions."""
    return _Composer(plan, deck).session()


class _Composer:
    def __init__(self, plan: Plan, deck: Deck) -> None:
        self._plan, self._deck = plan, deck
        self._rng = np.random.default_rng([plan.seed, 1])
        self._now = 0.0
        self._contacts: list[Contact] = []
        self._pitches: list[Thrown] = []
        self._not_pitches: list[NotAPitch] = []
        self._chosen: list[Chosen] = []
        self._speeds: list[SpeedTold] = []
        self._thing: tuple[company.Thing, float, int] | None = None  # since when, gaps to come

    def session(self) -> Scenario:
        plan = self._plan
        profiles = [
            draw_profile(self._rng, f"P{k + 1:02d}", ("R", "L")[k] if k < 2 else None, plan.wide)
            for k in range(plan.pitchers)
        ]
        if plan.day is not None:
            self._rng = np.random.default_rng([plan.seed, 1, plan.day])
        self._now = plan.empty_s
        share = -(-plan.pitches // max(plan.pitchers, 1))
        for k, profile in enumerate(profiles):
            count = min(share, plan.pitches - k * share)
            if count > 0:
                self._turn(profile, count)
        if plan.traffic_s > 0:
            self._only_traffic(profiles[0], self._now + plan.traffic_s)
        return Scenario(
            seed=plan.seed,
            note=f"{NOTE} Seed {plan.seed}.",
            roster=Roster(
                tuple(Pitcher(p.code, p.throws, round(p.body.height_m, 2)) for p in profiles)
            ),
            duration=self._now,
            contacts=in_order(self._contacts),
            pitches=tuple(self._pitches),
            not_pitches=tuple(self._not_pitches),
            chosen=tuple(self._chosen),
            speeds=tuple(sorted(self._speeds, key=lambda s: s.time)),
        )

    def _turn(self, profile: Profile, count: int) -> None:
        rng, deck = self._rng, self._deck
        self._chosen.append(Chosen(self._now, profile.code))
        self._now += 1.0
        self._add(traffic.walk_on(rng, profile, deck))
        for thrown in range(count):
            self._between(profile)
            style = self._plan.styles[int(rng.integers(len(self._plan.styles)))]
            self._throw(profile, draw_pitch(rng, profile, style, thrown))
        self._leave(profile)

    def _leave(self, profile: Profile) -> None:
        rng, deck = self._rng, self._deck
        if self._thing is not None:
            self._take_up(profile, self._thing[0], self._thing[1])
        self._add(traffic.wait(rng, profile, deck, 2.0))
        self._add(traffic.walk_off(rng, profile, deck))
        self._now += float(rng.uniform(3.0, 6.0))

    def _only_traffic(self, profile: Profile, until: float) -> None:
        self._chosen.append(Chosen(self._now, profile.code))
        self._now += 1.0
        self._add(traffic.walk_on(self._rng, profile, self._deck))
        while self._now < until:
            self._between(profile, always=True)
        self._leave(profile)

    def _between(self, profile: Profile, always: bool = False) -> None:
        """What fills the gap before a pitch."""
        rng, deck, plan = self._rng, self._deck, self._plan
        self._add(traffic.wait(rng, profile, deck, self._pause()))
        self._move_things(profile)
        if not always and rng.random() >= plan.traffic:
            return
        weights = np.array([w for _, w in _BETWEEN])
        activity = _BETWEEN[int(rng.choice(len(_BETWEEN), p=weights / weights.sum()))][0]
        self._add(activity(rng, profile, deck))
        if activity is traffic.jog_off:
            self._now += float(rng.uniform(4.0, 10.0))
            self._add(traffic.walk_on(rng, profile, deck))
        self._add(traffic.wait(rng, profile, deck, float(rng.uniform(1.6, 3.0))))

    def _move_things(self, profile: Profile) -> None:
        rng, deck = self._rng, self._deck
        if self._thing is not None:
            thing, since, left = self._thing
            if left > 0:
                self._thing = thing, since, left - 1
            else:
                self._take_up(profile, thing, since)
        elif rng.random() < (self._plan.things if self._plan.traffic > 0 else 0.0):
            thing = company.draw_thing(rng, deck)
            movement, moment = company.handle(rng, profile, deck, thing)
            self._thing = thing, self._now + moment, int(rng.integers(1, 5))
            self._add(movement)

    def _take_up(self, profile: Profile, thing: company.Thing, since: float) -> None:
        movement, moment = company.handle(self._rng, profile, self._deck, thing)
        self._contacts.append(thing.on_deck(since, self._now + moment))
        self._thing = None
        self._add(movement)

    def _pause(self) -> float:
        return float(self._rng.uniform(1.6, 2.5) if self._plan.quick else self._rng.uniform(4, 14))

    def _throw(self, profile: Profile, draw: Draw) -> None:
        delivery = pitch(self._rng, profile, draw, self._deck)
        told = self._rng.random() >= self._plan.speeds_missing
        thrown = Thrown(
            len(self._pitches) + 1, self._now, delivery, draw.speed_mps if told else None
        )
        self._pitches.append(thrown)
        if told:
            # The radar sees the ball 0.15 s after foot contact; its display and link take longer.
            delay = float(self._rng.uniform(0.5, 1.0))
            self._speeds.append(SpeedTold(thrown.contact + delay, draw.speed_mps))
        self._place(delivery.contacts, delivery.end)

    def _add(self, movement: Movement) -> None:
        if movement.like is not None:
            time, reason = movement.like
            self._not_pitches.append(NotAPitch(self._now + time, reason, movement.name))
        self._place(movement.contacts, movement.end)

    def _place(self, contacts: Sequence[Contact], end: float) -> None:
        self._contacts += [contact.later(self._now) for contact in contacts]
        self._now += end
