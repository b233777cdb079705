"""What happens beside pitches obeys the same physics, and none of it is a pitch."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from simulators import company, moves, traffic
from simulators.body import GRAVITY
from simulators.contacts import Contact, Role
from simulators.movement import Movement
from simulators.profile import Profile
from stream.layout import Deck
from stream.outputs import NotCountedReason
from tests.simulators.simulated import layout, profile, total_force

Make = Callable[[np.random.Generator, Profile, Deck], Movement]
_STEP = 2e-3
ALONE: tuple[Make, ...] = (
    traffic.walk_on, traffic.walk_off, traffic.groom, traffic.stretch_out, traffic.warm_up_jumps,
    traffic.jog_off, moves.balance_drill, moves.step_off, moves.throw_over, moves.pickoff_fake,
    moves.throw_to_second, moves.stride_drill, moves.hop_drill,
)  # fmt: skip
IN_COMPANY: tuple[Make, ...] = (
    company.visit, company.crossing, company.foot_on_deck, company.rake,
)  # fmt: skip


def _made(make: Make, seed: int) -> Movement:
    return make(np.random.default_rng(seed), profile(seed % 7), layout().deck)


@pytest.mark.parametrize("make", ALONE, ids=lambda f: f.__name__)
def test_movements_start_and_end_at_rest(make: Make) -> None:
    for seed in range(4):
        m, body = _made(make, seed), profile(seed % 7).body
        t = (np.arange(int(m.end / _STEP)) + 0.5) * _STEP
        net = total_force(m.contacts, t) - (0.0, 0.0, body.weight_n)
        velocity = net.sum(axis=0) * _STEP / body.mass_kg
        assert np.abs(velocity).max() < 0.03
        ends = total_force(m.contacts, np.array([1e-4, m.end - 1e-4]))
        assert ends[:, 2] == pytest.approx(body.weight_n, rel=0.02)


@pytest.mark.parametrize("make", [*ALONE, *IN_COMPANY], ids=lambda f: f.__name__)
def test_the_ground_never_pulls(make: Make) -> None:
    for seed in range(3):
        m = _made(make, seed)
        for c in m.contacts:
            t = np.linspace(c.start, c.end, 300, endpoint=False)
            assert c.force(t)[:, 2].min() > -1e-6


def test_flight_time_of_a_jump_agrees_with_its_impulse() -> None:
    # A body that leaves the ground at v and lands as high is in the air 2 v / g.
    m, body = _made(traffic.warm_up_jumps, 3), profile(3).body
    step = 1e-4
    t = np.arange(0.0, m.end, step)
    vertical = total_force(m.contacts, t)[:, 2]
    airborne = vertical == 0.0
    off = int(np.argmax(airborne))
    flight = int(np.argmax(~airborne[off:])) * step
    speed = ((vertical[:off] - body.weight_n) * step).sum() / body.mass_kg
    assert flight == pytest.approx(2 * speed / GRAVITY, abs=3e-3)
    assert flight > 0.1


def test_walking_loads_like_walking() -> None:
    # Common practice, no source: an easy walk peaks between 1.0 and 1.4 body weights a step.
    m = traffic.walk_on(np.random.default_rng(1), profile(1), layout().deck)
    weight = profile(1).body.weight_n
    peaks = []
    for c in m.contacts:
        peaks.append(c.force(np.linspace(c.start, c.end, 200, endpoint=False))[:, 2].max())
    assert 1.0 < max(peaks) / weight < 1.4


LIKE: dict[Make, NotCountedReason] = {
    moves.balance_drill: NotCountedReason.NO_LANDING,
    moves.hop_drill: NotCountedReason.NO_LANDING,
    moves.stride_drill: NotCountedReason.NO_LANDING,
    moves.step_off: NotCountedReason.STEP_OFF,
    moves.throw_over: NotCountedReason.THROW_OVER,
    moves.pickoff_fake: NotCountedReason.THROW_OVER,
    moves.throw_to_second: NotCountedReason.THROW_OVER,
}


@pytest.mark.parametrize("make", ALONE, ids=lambda f: f.__name__)
def test_what_resembles_a_delivery_says_so(make: Make) -> None:
    m = _made(make, 2)
    assert (m.like[1] if m.like else None) is LIKE.get(make)
    if m.like:
        assert 0.0 < m.like[0] < m.end


def test_others_load_the_deck_while_the_pitcher_stands() -> None:
    for make in IN_COMPANY:
        m = _made(make, 5)
        others = tuple(c for c in m.contacts if c.role is Role.OTHER)
        pitcher = tuple(c for c in m.contacts if c.role is not Role.OTHER)
        t = np.linspace(0.1, m.end - 0.1, 500)
        assert total_force(others, t)[:, 2].max() > 100.0
        standing = total_force(pitcher, t)[:, 2] / profile(5).body.weight_n
        assert np.abs(standing - 1.0).max() < 0.05


def test_a_thing_left_on_the_deck_is_a_steady_load() -> None:
    thing = company.draw_thing(np.random.default_rng(1), layout().deck)
    left: Contact = thing.on_deck(10.0, 40.0)
    load = left.force(np.linspace(10.5, 39.5, 50))
    assert load[:, 2] == pytest.approx(thing.weight_n)
    assert left.force(np.array([10.0, 40.0]))[:, 2] == pytest.approx(0.0)
    reach = layout().deck
    assert abs(thing.y) + thing.half_y <= reach.half_width + 1e-9
