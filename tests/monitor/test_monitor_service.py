from __future__ import annotations

import asyncio
import os
import threading
from pathlib import Path

import msgspec
import pytest

from stream.actions import Note, encode_action
from stream.files import load_layout
from stream.monitor import mounds, service
from stream.monitor.backroom import Backroom
from stream.monitor.keepers import JsonLines, Keeper
from stream.monitor.service import Equipment, TaskFailed
from stream.outputs import Fault, PitchClosed
from stream.recording.reader import read_recording
from stream.recording.writer import RecordingWriter
from stream.sinks.jsonl import LineFile
from stream.snapshot import Level, Sentence
from stream.wire import Packet, TopicKind, topic
from tests.monitor.fakes import HandCore, Rig, Watched, packet, pitch, record
from tests.transport.waiting import eventually

LAYOUT = load_layout("two-plates")


class Cores(dict[str, HandCore]):
    """Makes a core for each mound that is heard."""

    def make(self, source: str) -> HandCore:
        self[source] = HandCore(source, LAYOUT)
        return self[source]


async def test_each_mound_has_a_core_of_its_own() -> None:
    """Sixty-four feeds in one process; each core sees its own packets in order."""
    cores = Cores()
    names = [f"mound-{n}" for n in range(64)]
    async with Rig(cores.make) as rig:
        for block in range(5):
            rig.send(*(packet(block, name) for name in names))
        await eventually(lambda: sum(len(c.given) for c in cores.values()) == 320)
        await eventually(lambda: all(c.ticks for c in cores.values()), "time passes for each")
    assert sorted(cores) == sorted(names)
    for name, core in cores.items():
        assert core.given == [packet(block, name) for block in range(5)]


async def test_the_bytes_are_recorded_before_they_are_decoded(tmp_path: Path) -> None:
    """A core that breaks on a message finds it on the disk: byte for byte, readable or not."""
    cores = Cores()
    writer = RecordingWriter(tmp_path / "r.mcap")
    rubbish = Packet("moundfeed/mound-a/force", b"\xff rubbish", 7)
    async with Rig(cores.make, Equipment(recording=writer, keepers=[], servers=[])) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        cores["mound-a"].breaks = KeyError("a defect")
        rig.send(rubbish)
        with pytest.raises(TaskFailed, match="feed from hand://: KeyError"):
            await rig.outcome()
    writer.close()
    kept = [p.payload for p in read_recording(tmp_path / "r.mcap").packets()]
    assert kept == [packet(0).payload, rubbish.payload]


@pytest.mark.fault(
    "a part of the monitor fails",
    "the monitor ends with the name of the part; everything is closed in order",
)
async def test_a_task_that_fails_ends_the_monitor_with_its_name_and_closes_what_is_open() -> None:
    cores = Cores()
    seen = Watched(Backroom("seen"))
    async with Rig(cores.make, Equipment(keepers=[seen], servers=[])) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        cores["mound-a"].at_the_end = [PitchClosed(record(4))]
        rig.feed.queue.put_nowait(RuntimeError("a defect"))
        with pytest.raises(TaskFailed, match=r"feed from hand://: RuntimeError: a defect"):
            await rig.outcome()
    assert seen.closed == [4], "the pitch that was open is not lost"


async def test_a_source_that_ends_is_a_failure() -> None:
    async with Rig(Cores().make) as rig:
        rig.feed.queue.put_nowait(None)
        with pytest.raises(TaskFailed, match="it ended although it must not"):
            await rig.outcome()


async def test_a_job_that_fails_in_its_thread_is_not_lost() -> None:
    def defect() -> None:
        raise ZeroDivisionError("in the thread")

    keeper = Watched(Backroom("The file x"))
    async with Rig(Cores().make, Equipment(keepers=[keeper], servers=[])) as rig:
        keeper.room.put(defect)
        with pytest.raises(TaskFailed, match="The file x: ZeroDivisionError"):
            await rig.outcome()


@pytest.mark.fault(
    "a pipe for the results is stuck",
    "feed and recording are not delayed; it is said",
)
async def test_a_stuck_sink_delays_nothing_and_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe that nobody reads holds up its own thread only; what it lost is counted and said."""
    monkeypatch.setattr("stream.monitor.backroom._STUCK_S", 0.2)
    monkeypatch.setattr("stream.monitor.backroom._FAREWELL_S", 0.2)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    stuck = JsonLines(LineFile(pipe))
    stuck.room._jobs.maxsize = 50
    writer = RecordingWriter(tmp_path / "r.mcap")
    cores = Cores()
    keepers: list[Keeper] = [stuck]
    equipment = Equipment(recording=writer, keepers=keepers, servers=[])
    async with Rig(cores.make, equipment) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        # Each line is longer than 5000 bytes: a few fill a pipe's 64 KiB.
        cores["mound-a"].always = [PitchClosed(record(1, note="x" * 5000))]
        rig.send(*(packet(number) for number in range(1, 501)))
        for number in range(501, 1001):
            rig.send(packet(number))
        await eventually(lambda: len(cores["mound-a"].given) == 1001)
        assert stuck.room.dropped > 200
        await eventually(lambda: stuck.room.trouble)
        texts = [s.text for s in rig.monitor.sentences()]
        assert any("takes nothing any more" in text for text in texts)
        assert any(f"has missed {stuck.room.dropped} things" in text for text in texts)
    assert not await stuck.room.finish(), "it does not claim to have written everything"
    writer.close()
    assert len(list(read_recording(tmp_path / "r.mcap").packets())) == 1001, "nothing is missing"
    os.close(reader)


async def test_noise_never_begins_a_mound() -> None:
    cores = Cores()
    seen = Watched(Backroom("seen"))
    async with Rig(cores.make, Equipment(keepers=[seen], servers=[])) as rig:
        rig.send(Packet(topic("ghost", TopicKind.FORCE), b"noise", 1))
        rig.send(Packet(topic("quick", TopicKind.SPEED), b"{}", 1))
        rig.send(packet(0))
        await eventually(lambda: cores)
    assert list(cores) == ["mound-a"]
    texts = [s.text for s in seen.sentences]
    assert any("'ghost' sends cannot be read" in text for text in texts)
    assert any("'quick', which has sent no force" in text for text in texts)


async def test_strangers_cannot_open_mounds_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mounds, "MOST_MOUNDS", 3)
    cores = Cores()
    async with Rig(cores.make) as rig:
        rig.send(*(packet(0, f"m{n}") for n in range(10)), packet(1, "m0"))
        await eventually(lambda: len(cores) == 3 and len(cores["m0"].given) == 2)
        assert [s.key for s in rig.monitor.sentences()] == ["too many mounds"]


async def test_a_mound_that_is_not_to_be_followed_is_said_once() -> None:
    calls: list[str] = []

    def refuse(source: str) -> Sentence:
        calls.append(source)
        return Sentence(Level.WARNING, "other mound", "Not this one.")

    async with Rig(refuse) as rig:
        rig.send(packet(0, "other"), packet(1, "other"))
        rig.send(packet(2, "other"))
        await eventually(rig.monitor.sentences)
        assert [s.text for s in rig.monitor.sentences()] == ["Not this one."]
    assert calls == ["other"]


async def test_it_ends_after_the_pitches_asked_for() -> None:
    cores = Cores()
    seen = Watched(Backroom("seen"))
    async with Rig(cores.make, Equipment(keepers=[seen], servers=[]), until_pitches=2) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        cores["mound-a"].answers = [pitch(1), PitchClosed(record(1)), pitch(2)]
        rig.send(packet(1))
        await eventually(lambda: len(seen.outputs) == 3)
        assert not rig.task.done(), "the second one's ball speed may still come"
        cores["mound-a"].answers = [PitchClosed(record(2))]
        rig.send(packet(2))
        await rig.outcome()
    assert seen.closed == [1, 2]


async def test_what_comes_while_it_stops_begins_nothing_new() -> None:
    """The publisher takes its time to say farewell; the feed goes on meanwhile."""

    class Slow:
        address, dropped, trouble = "slow://", 0, None

        def offer(self, message: object) -> None:
            pass

        async def run(self) -> None:
            await asyncio.Event().wait()

        async def finish(self) -> None:
            rig.send(packet(1))
            await eventually(rig.feed.queue.empty)

        def close(self) -> None:
            pass

    made: list[str] = []

    def make(source: str) -> HandCore:
        made.append(source)
        return HandCore(source, LAYOUT)

    async with Rig(make, Equipment(publisher=Slow(), keepers=[], servers=[])) as rig:
        rig.send(packet(0))
        await eventually(lambda: made)
    assert made == ["mound-a"]


async def test_it_does_not_wait_for_ever_for_a_ball_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The device is switched off right after the last pitch: no more feed closes it."""
    monkeypatch.setattr(service, "SPEED_MAY_COME_S", 0.05)
    cores = Cores()
    seen = Watched(Backroom("seen"))
    async with Rig(cores.make, Equipment(keepers=[seen], servers=[]), until_pitches=1) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        cores["mound-a"].at_the_end = [PitchClosed(record(1))]
        cores["mound-a"].answers = [pitch(1)]
        rig.send(packet(1))
        await rig.outcome()
    assert seen.closed == [1]


async def test_an_action_is_recorded_and_answered(tmp_path: Path) -> None:
    writer = RecordingWriter(tmp_path / "r.mcap")
    cores = Cores()
    action = encode_action(Note(source="mound-a", t_ns=5, number=3, text="late arm"))
    note = Packet("moundfeed/mound-a/operator", action, 9)
    async with Rig(cores.make, Equipment(recording=writer, keepers=[], servers=[])) as rig:
        assert "not been heard" in str(rig.monitor.act(note))
        rig.send(packet(0))
        await eventually(lambda: cores)
        assert rig.monitor.act(note) is None
        cores["mound-a"].answers = [Fault("mound-a", "no_such_pitch", "There is no pitch 3.")]
        assert rig.monitor.act(note) == "There is no pitch 3."
    writer.close()
    topics = [p.topic for p in read_recording(tmp_path / "r.mcap").packets()]
    assert topics == ["moundfeed/mound-a/force", *["moundfeed/mound-a/operator"] * 2]


async def test_what_the_source_drops_is_said() -> None:
    async with Rig(Cores().make) as rig:
        assert rig.monitor.sentences() == []
        rig.feed.dropped, rig.feed.left_out = 12, 3
        rig.feed.tell(Sentence(Level.INFO, "connection", "Connected to hand://."))
        texts = " ".join(s.text for s in rig.monitor.sentences())
        assert "Connected to hand://" in texts
        assert "12 messages of the feed were dropped" in texts
        assert "3 messages that are no force" in texts


async def test_a_backroom_does_its_jobs_in_order_and_closes_in_its_own_thread() -> None:
    done: list[int] = []
    closed_in: list[str] = []

    def close() -> bool:
        closed_in.append(threading.current_thread().name)
        return True

    room = Backroom("The file y", close=close)
    for number in range(500):
        room.put(lambda number=number: done.append(number))  # type: ignore[misc]
    assert await room.finish()
    assert done == list(range(500))
    assert closed_in == ["The file y"]


async def test_no_health_tells_where_files_lie(tmp_path: Path) -> None:
    writer = RecordingWriter(tmp_path / "r.mcap")
    rig = Rig(Cores().make, Equipment(recording=writer, keepers=[], servers=[]))
    health = rig.monitor._own({"pitches": 1})
    assert str(tmp_path) not in msgspec.json.encode(health).decode()
    assert health["recording"]["on"] is True
    writer.close()
