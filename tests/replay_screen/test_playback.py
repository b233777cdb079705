"""Playing a recording into a screen's link, with the clock in the test's hand."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Iterable

import pytest

from stream.monitor.playback import Part, Playback, Seek
from stream.monitor.view import LocalLink
from stream.outputs import FootContact, NotCounted, Pitch, PitchRecord
from stream.recording.reader import Recording, read_recording
from stream.recording.replay import Mounds, setup_of
from tests.transport.waiting import eventually
from tui.commands.main import main

NS = 1_000_000_000


class Clock:
    def __init__(self) -> None:
        self.now = 5_000

    def __call__(self) -> int:
        return self.now


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    path = tmp_path_factory.mktemp("playback") / "made.mcap"
    arguments = ["--pitches", "4", "--quick", "--seed", "3", "--pitchers", "1", "--block", "10"]
    assert main(["simulate", "--to", str(path), *arguments]) == 0
    return read_recording(path)


@pytest.fixture(scope="module")
def records(recording: Recording) -> list[PitchRecord]:
    """What a replay without a screen gives, by way of the core alone."""
    mounds = Mounds(setup_of(recording))
    last: dict[int, PitchRecord] = {}
    outputs = [o for b in recording.batches() for o in mounds.receive_many(b)] + mounds.finish()
    for output in outputs:
        record = getattr(output, "record", None)
        if isinstance(record, PitchRecord):
            last[record.number] = record
    assert len(last) == 4
    return [last[number] for number in sorted(last)]


def part(recording: Recording) -> Part:
    times = [packet.received_ns for packet in recording.packets()]
    return Part(recording, setup_of(recording), times[0], max(times))


def playback(recordings: Iterable[Recording], speed: float = 1.0) -> tuple[Playback, Clock]:
    clock = Clock()
    parts = [part(recording) for recording in recordings]
    return Playback(parts, LocalLink(), speed=speed, clock=clock), clock


def work(player: Playback) -> None:
    """Take turns until a step or jump is over."""
    while player.seeking is not None:
        player.turn()


def to_the_end(player: Playback) -> None:
    while not player.ended:
        player.turn()


def shown(player: Playback) -> list[PitchRecord]:
    return [view.record for view in player.link.pitches]


def test_the_screen_gets_the_records_of_a_replay_without_screen(
    recording: Recording, records: list[PitchRecord]
) -> None:
    player, _ = playback([recording], speed=math.inf)
    to_the_end(player)
    assert shown(player) == records
    assert player.place_ns == player.length_ns
    assert all(view.traces is not None for view in player.link.pitches)


def test_time_goes_at_the_speed_that_was_asked_for(recording: Recording) -> None:
    player, clock = playback([recording], speed=4.0)
    player.turn()
    clock.now += 2 * NS
    while player.turn() == 0.0:
        pass
    assert player.place_ns == pytest.approx(8 * NS, abs=1)
    player.change_speed(1)
    assert player.speed == 8.0
    clock.now += NS
    while player.turn() == 0.0:
        pass
    assert player.place_ns == pytest.approx(16 * NS, abs=NS / 10)
    player.show()
    assert player.link.latest is not None
    assert player.link.latest.feed.frames == pytest.approx(200 * 16, abs=30)


def test_speeds_end_at_both_ends(recording: Recording) -> None:
    player, _ = playback([recording])
    for _ in range(20):
        player.change_speed(1)
    assert math.isinf(player.speed)
    for _ in range(20):
        player.change_speed(-1)
    assert player.speed == 0.1


def test_steps_stand_at_each_pitch_and_at_what_was_not_counted(
    recording: Recording, records: list[PitchRecord]
) -> None:
    player, clock = playback([recording])
    met = []
    while True:
        player.step(Seek.PITCH)
        work(player)
        if player.ended:
            break
        assert player.paused
        assert isinstance(player.reached, Pitch | NotCounted)
        met.append(player.reached)
        at = player.place_ns
        clock.now += 60 * NS
        player.turn()
        assert player.place_ns == at, "it stands"
        pitches = sum(isinstance(o, Pitch) for o in met)
        assert len(player.link.pitches) == pitches, "it stands before the next one"
    assert [o.record.number for o in met if isinstance(o, Pitch)] == [1, 2, 3, 4]
    assert shown(player) == records


def test_an_event_comes_before_its_pitch(recording: Recording) -> None:
    player, _ = playback([recording])
    met: list[object] = []
    while not any(isinstance(output, Pitch) for output in met):
        player.step(Seek.EVENT)
        work(player)
        met.append(player.reached)
    assert isinstance(met[-2], FootContact)


def test_a_jump_measures_what_lies_before_it_and_goes_on_from_there(
    recording: Recording, records: list[PitchRecord]
) -> None:
    player, clock = playback([recording])
    player.jump(player.length_ns * 3 // 4)
    assert player.seeking == 0.0
    player.turn()
    half = player.seeking
    assert half is not None
    assert 0.0 < half < 1.0
    work(player)
    assert player.place_ns == player.length_ns * 3 // 4
    assert not player.paused
    there = len(player.link.pitches)
    assert 0 < there < 4
    assert [r.number for r in shown(player)] == list(range(1, there + 1))
    clock.now += player.length_ns
    to_the_end(player)
    assert shown(player) == records


def test_back_begins_anew_and_gives_the_same_again(
    recording: Recording, records: list[PitchRecord]
) -> None:
    player, _ = playback([recording], speed=math.inf)
    to_the_end(player)
    player.pause(True)
    player.jump(0)
    work(player)
    assert player.place_ns == 0
    assert player.paused
    assert not player.link.pitches
    player.pause(False)
    to_the_end(player)
    assert shown(player) == records


def test_pause_ends_a_jump_where_it_is(recording: Recording) -> None:
    player, _ = playback([recording])
    player.jump(player.length_ns)
    player.turn()
    player.turn()
    player.pause(True)
    assert player.seeking is None
    at = player.place_ns
    assert 0 < at < player.length_ns
    player.turn()
    assert player.place_ns == at


def test_the_recordings_of_a_session_follow_each_other(recording: Recording) -> None:
    alone, _ = playback([recording])
    player, _ = playback([recording, recording], speed=math.inf)
    assert player.length_ns == 2 * alone.length_ns
    player.jump(alone.length_ns + alone.length_ns // 2)
    work(player)
    assert player.place_ns == alone.length_ns + alone.length_ns // 2
    player.jump(alone.length_ns // 2)
    work(player)
    assert player.place_ns == alone.length_ns // 2
    to_the_end(player)
    assert player.place_ns == player.length_ns
    assert len(player.link.pitches) == 4


def test_only_the_mound_that_was_named(recording: Recording) -> None:
    player = Playback([part(recording)], LocalLink("mound-z"), only="mound-z", speed=math.inf)
    to_the_end(player)
    assert player.link.latest is None


def test_a_picture_while_it_stands_is_not_a_stopped_feed(recording: Recording) -> None:
    player, clock = playback([recording])
    player.jump(10 * NS)
    work(player)
    player.pause(True)
    clock.now += 3600 * NS
    player.turn()
    player.show()
    assert player.link.latest is not None
    assert player.link.latest.feed.state == "live"


async def test_a_screen_that_opens_while_it_stands_gets_a_picture(recording: Recording) -> None:
    player, _ = playback([recording])
    player.jump(10 * NS)
    work(player)
    player.pause(True)
    running = asyncio.create_task(player.run())
    try:
        await eventually(lambda: player.link.latest)
        first = player.link.latest
        await eventually(lambda: player.link.latest is not first)
    finally:
        running.cancel()
