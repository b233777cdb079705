"""What the picture of now says of who stands where; invented pitches and loads.

Whatever else stands on the deck, only one person in a set position has a body weight.
"""

from __future__ import annotations

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.pipeline import Pipeline
from stream.snapshot import DeckState, Snapshot
from stream.wire import ForceMessage, Packet, TopicKind, encode_force, topic
from tests.core.mounds import SOURCE, force_packet, session

PERSON_N = 850.0
#: Vertical force of the two plates' channels, and where the middle of each is (x, m).
REAR, FRONT = (2, -0.1524), (8, 1.3716)
ON_THE_RUBBER_M, BEFORE_IT_M, BEHIND_IT_M = 0.1, 1.2, -0.152


def stand(core: Pipeline, newtons: float, x: float, seconds: float = 3.0) -> Snapshot:
    """Let ``newtons`` stand still with their centre of pressure at ``x``; return the picture."""
    tracker = core.tracker
    assert tracker is not None
    row = tracker.zero.tare.copy()
    share = (x - REAR[1]) / (FRONT[1] - REAR[1])
    row[REAR[0]] += (1.0 - share) * newtons
    row[FRONT[0]] += share * newtons
    first = core.continuity.expected or 0
    block = np.tile(row, (round(seconds * tracker.rate_hz), 1)).astype(np.float32)
    core.receive(force_packet(first, block))
    return core.snapshot(round((first + len(block)) / tracker.rate_hz * 1e9))


@pytest.fixture
def empty() -> Pipeline:
    """A core that has seen two seconds of an empty deck."""
    core = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0)).pipeline()
    core.receive(force_packet(0, np.full((400, 12), 5.0, np.float32)))
    return core


@pytest.fixture
def thrown() -> tuple[Pipeline, float]:
    """A core that has counted a pitch, and the pitcher's weight in it, N."""
    invented = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0))
    core = invented.pipeline()
    for packet in invented.packets(200):
        core.receive(packet)
    (record,) = core.book.records.values()
    assert record.body_weight_n is not None
    return core, record.body_weight_n


def test_one_person_in_a_set_position_has_a_weight(empty: Pipeline) -> None:
    now = stand(empty, PERSON_N, ON_THE_RUBBER_M)
    assert now.deck is DeckState.SET
    assert now.body_weight_n == pytest.approx(PERSON_N, rel=0.005)


@pytest.mark.parametrize("x", [BEFORE_IT_M, BEHIND_IT_M])
def test_who_stands_elsewhere_has_none(empty: Pipeline, x: float) -> None:
    now = stand(empty, PERSON_N, x)
    assert now.deck is DeckState.OCCUPIED
    assert now.body_weight_n is None


def test_who_walks_about_throws_nothing(empty: Pipeline) -> None:
    stand(empty, PERSON_N, BEFORE_IT_M)
    assert stand(empty, 0.8 * PERSON_N, 1.6, 0.5).deck is DeckState.OCCUPIED


def test_out_of_a_set_position_a_movement_goes_on(empty: Pipeline) -> None:
    stand(empty, PERSON_N, ON_THE_RUBBER_M)
    now = stand(empty, 0.8 * PERSON_N, 0.4, 0.4)
    assert now.deck is DeckState.DELIVERY
    assert now.body_weight_n == pytest.approx(PERSON_N, rel=0.005)


@pytest.mark.parametrize("x", [BEFORE_IT_M, ON_THE_RUBBER_M])
def test_two_people_keep_the_weight_of_the_last_pitch(
    thrown: tuple[Pipeline, float], x: float
) -> None:
    core, weight = thrown
    now = stand(core, 2.0 * weight, x)
    assert now.deck is DeckState.OCCUPIED
    assert now.body_weight_n == weight
    assert [s.key for s in now.sentences if s.key == "two_people"]


def test_half_a_person_keeps_the_weight_of_the_last_pitch(thrown: tuple[Pipeline, float]) -> None:
    core, weight = thrown
    assert stand(core, 0.5 * weight, BEFORE_IT_M).body_weight_n == weight


def test_a_pitcher_without_a_pitch_has_no_weight_but_his_own(
    thrown: tuple[Pipeline, float],
) -> None:
    core, weight = thrown
    first, core.pitcher = core.pitcher, "P99"
    assert stand(core, weight, BEFORE_IT_M).body_weight_n is None
    core.pitcher = first
    assert stand(core, weight, BEFORE_IT_M).body_weight_n == weight


def test_all_through_a_session_it_is_his_weight_or_none() -> None:
    # Within a fifth: what somebody in a set position holds is weighed with him.
    plan = Plan(seed=3, pitches=3, traffic=1.0, pitchers=1)
    invented = session(plan)
    core = invented.pipeline()
    weight = None
    for packet in invented.packets(40):
        core.receive(packet)
        now = core.snapshot(packet.received_ns)
        if now.body_weight_n is None:
            continue
        weight = weight or now.body_weight_n
        assert now.body_weight_n == pytest.approx(weight, rel=0.2)


def test_the_running_plot_has_all_that_is_there_wherever_the_feed_was_joined() -> None:
    invented = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0))
    core = invented.pipeline()
    core.receive(force_packet(3, np.full((397, 12), 5.0, np.float32)))
    for frame in range(400, 410):  # values of five frames each, on the frame count
        core.receive(force_packet(frame, np.full((1, 12), 5.0, np.float32)))
        strip = core.snapshot(0).strip
        assert len(strip.drive) == (frame + 1) // 5 - 1
        assert strip.step_s == 0.025


def test_the_running_plot_tells_its_own_step_and_is_six_seconds_long() -> None:
    core = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0)).pipeline()
    for start in range(0, 2500, 500):
        block = np.full((500, 12), 5.0, np.float32)
        message = ForceMessage(SOURCE, "s1", start, start * 4_000_000, 250.0, block)
        core.receive(Packet(topic(SOURCE, TopicKind.FORCE), encode_force(message), 0))
    strip = core.snapshot(0).strip
    assert strip.step_s == 6 / 250
    assert len(strip.drive) * strip.step_s == pytest.approx(6.0)


def test_a_zero_grows_older_while_the_device_starts_anew(empty: Pipeline) -> None:
    before = empty.snapshot(0).zero.age_s
    assert before is not None
    again = force_packet(0, np.full((20, 12), 5.0, np.float32), "s2")
    silent_s = 30.0
    late_ns = (empty.watchman.last_ns or 0) + round(silent_s * 1e9)
    empty.receive(Packet(again.topic, again.payload, late_ns))
    after = empty.snapshot(late_ns).zero.age_s
    assert after == pytest.approx(before + silent_s + 0.1, abs=0.02)
