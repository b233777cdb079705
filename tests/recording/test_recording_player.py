"""Playback on an absolute schedule, with the clock in the test's hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stream.recording.plain import PlainWriter
from stream.recording.reader import Recording, read_recording
from stream.sources.recording import Player
from stream.wire import Packet
from tests.recording.feed import EPOCH_NS, packets

SENT = packets(300)
PERIOD_NS = 10_000_000
MS = 1_000_000


class Clock:
    def __init__(self) -> None:
        self.now = 5_000

    def __call__(self) -> int:
        return self.now


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    path = tmp_path_factory.mktemp("player") / "a.mcap"
    with PlainWriter(path) as writer:
        for packet in SENT:
            writer.write(packet)
    return read_recording(path)


def test_a_message_is_due_at_its_own_time(recording: Recording) -> None:
    clock = Clock()
    player = Player(recording, clock=clock)
    assert player.due() == SENT[:1]
    assert player.wait_s() == pytest.approx(0.010)
    clock.now += 9 * MS
    assert player.due() == []
    clock.now += 1 * MS
    assert player.due() == SENT[1:2]
    # Late by 95 ms: all that was due comes, and the schedule has not slipped.
    clock.now += 95 * MS
    assert player.due() == SENT[2:11]
    assert player.wait_s() == pytest.approx(0.005)
    assert player.position_ns - EPOCH_NS == 105 * MS


@given(speeds=st.lists(st.sampled_from([0.25, 1.0, 3.0, 50.0]), min_size=1, max_size=8))
@settings(max_examples=30)
def test_any_changes_of_speed_give_every_message_once(
    recording: Recording, speeds: list[float]
) -> None:
    clock = Clock()
    player = Player(recording, clock=clock)
    got: list[Packet] = []
    place = 0.0
    for speed in speeds:
        player.set_speed(speed)
        for _ in range(3):
            clock.now += 7 * MS
            place += 7 * MS * speed
            got += player.due()
            assert len(got) == min(int(place / PERIOD_NS + 1e-6) + 1, len(SENT))
    player.set_speed(float("inf"))
    while not player.ended:
        got += player.due()
    assert got == SENT


def test_pause_stands_still_and_goes_on_from_there(recording: Recording) -> None:
    clock = Clock()
    player = Player(recording, speed=2.0, clock=clock)
    clock.now += 50 * MS
    first = player.due()
    assert len(first) == 11
    player.pause()
    at = player.position_ns
    clock.now += 3_600_000 * MS
    assert player.due() == []
    assert player.wait_s() is None
    assert player.position_ns == at
    assert player.step() == SENT[11:12]
    assert player.step(2) == SENT[12:14]
    assert player.position_ns - EPOCH_NS == 130 * MS
    player.resume()
    assert player.due() == []
    clock.now += 5 * MS
    assert player.due() == SENT[14:15]


def test_jump_forward_and_back(recording: Recording) -> None:
    clock = Clock()
    player = Player(recording, clock=clock)
    assert player.before(EPOCH_NS + 1500 * MS, most=100) == SENT[:100]
    assert player.position_ns - EPOCH_NS == 990 * MS
    assert player.before(EPOCH_NS + 1500 * MS) == SENT[100:150]
    assert player.before(EPOCH_NS + 1500 * MS) == []
    player.stand_at(EPOCH_NS + 1500 * MS)
    assert player.due() == SENT[150:151]
    assert player.position_ns - EPOCH_NS == 1500 * MS
    player = Player(recording, clock=clock)
    assert player.position_ns == EPOCH_NS
    assert player.due(most=1) == SENT[:1]
    assert player.before(2**62) == SENT[1:]
    player.stand_at(2**62)
    assert player.ended
    assert player.position_ns == SENT[-1].received_ns
    assert player.wait_s() is None


def test_a_host_clock_set_back_does_not_stop_the_playback(tmp_path: Path) -> None:
    path = tmp_path / "back.mcap"
    back = [
        p if i < 5 else Packet(p.topic, p.payload, p.received_ns - 3_600_000 * MS)
        for i, p in enumerate(packets(10))
    ]
    with PlainWriter(path) as writer:
        for packet in back:
            writer.write(packet)
    clock = Clock()
    player = Player(read_recording(path), clock=clock)
    clock.now += 40 * MS
    assert player.due() == back


def test_speeds_are_above_nothing(recording: Recording) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Player(recording, speed=0.0)


def test_an_empty_recording_has_ended(tmp_path: Path) -> None:
    with PlainWriter(tmp_path / "empty.mcap"):
        pass
    player = Player(read_recording(tmp_path / "empty.mcap"), clock=Clock())
    assert player.ended
    assert player.due() == []
