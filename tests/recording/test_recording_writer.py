"""The recorder against real trouble: kills, full disks, slow disks, hostile topics."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.recording import writer as writer_module
from stream.recording.container import Hole
from stream.recording.durable import DurableFile
from stream.recording.intake import Entry, Intake
from stream.recording.reader import read_recording
from stream.recording.writer import SYNC_S, RecordingIncompleteError, RecordingWriter
from stream.wire import Packet
from tests.recording.disks import DISKS, FullDisk
from tests.recording.feed import EPOCH_NS, FORCE, packet, packets

HERE = Path(__file__).parent

CHILD = """
import sys, time
from pathlib import Path
from stream.recording.writer import RecordingWriter
sys.path.insert(0, sys.argv[2])
from feed import packet
writer = RecordingWriter(Path(sys.argv[1]), layout_text="name = 'x'")
start = time.monotonic()
for i in range(100_000):
    time.sleep(max(start + i * 0.01 - time.monotonic(), 0))
    writer.write(packet(i))
    print(i + 1, writer.synced_messages, flush=True)
"""


def eventually(condition: Callable[[], bool], deadline_s: float = 20.0) -> None:
    end = time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.002)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sync and retry in hundredths of a second."""
    monkeypatch.setattr(writer_module, "SYNC_S", 0.02)
    monkeypatch.setattr(writer_module, "RETRY_S", 0.02)


@pytest.fixture(params=DISKS)
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FullDisk]:
    with request.param(tmp_path) as made:
        yield made


@pytest.mark.parametrize("wait_for", [30, 75, 131])
@pytest.mark.fault(
    "the recorder is killed (kill -9) in mid recording",
    "the recording opens; at most half a second is missing",
)
def test_killed_in_mid_recording(
    tmp_path: Path, wait_for: int, measured: Callable[[str], None]
) -> None:
    """kill -9 at different places of the half second between two syncs."""
    path = tmp_path / "killed.mcap"
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path), str(HERE)], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        written = synced = 0
        while written < wait_for:
            written, synced = map(int, child.stdout.readline().split())
        os.kill(child.pid, signal.SIGKILL)
        # What it had written since belongs to what may be lost.
        for line in child.stdout:
            if line.endswith("\n"):
                written, synced = map(int, line.split())
    recording = read_recording(path)
    got = list(recording.packets())
    assert got == packets(len(got))
    assert len(got) >= synced
    assert recording.truncated
    assert recording.metadata["layout"] == {"toml": "name = 'x'"}
    assert path.stat().st_mode & 0o777 == 0o600
    lost_s = (written - len(got)) * 0.01
    assert lost_s <= 0.5
    measured(f"{lost_s:.2f} s lost")


def test_the_promise_of_half_a_second_leaves_room_for_the_write() -> None:
    assert SYNC_S <= 0.45


@pytest.mark.usefixtures("quick")
def test_full_disk_and_space_again(disk: FullDisk) -> None:
    """Nothing is lost while memory lasts: all follows in order."""
    path = disk.folder / "full.mcap"
    numbers = count()
    with RecordingWriter(path) as writer:

        def write_one() -> None:
            assert writer.write(packet(next(numbers)))

        write_one()
        eventually(lambda: writer.synced_messages == 1)
        disk.fill(path)
        refused = False
        while not refused:
            write_one()
            time.sleep(0.001)
            refused = writer.state().trouble is not None
        trouble = writer.state().trouble or ""
        assert trouble.startswith("NOT RECORDING. The ")
        assert disk.says in trouble
        assert writer.state().unsynced_s > 0.0
        held = writer.state().bytes
        for _ in range(50):
            write_one()
        assert writer.state().bytes == held == path.stat().st_size
        # What is in the file opens while the disk is full.
        so_far = list(read_recording(path).packets())
        assert so_far == packets(writer.synced_messages)
        disk.free()
        eventually(lambda: writer.state().trouble is None)
        write_one()
    recording = read_recording(path)
    assert list(recording.packets()) == packets(next(numbers))
    assert not recording.truncated
    assert recording.report.sentences() == []


@pytest.mark.usefixtures("quick")
def test_full_disk_for_longer_than_memory_lasts(
    disk: FullDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer_module, "MAX_WAITING", 40)
    path = disk.folder / "hole.mcap"
    taken: list[Packet] = []
    lost: list[Packet] = []
    numbers = count()
    with RecordingWriter(path) as writer:

        def write_one() -> None:
            sent = packet(next(numbers))
            (taken if writer.write(sent) else lost).append(sent)

        write_one()
        eventually(lambda: writer.synced_messages == 1)
        disk.fill(path)
        while len(lost) < 25:
            write_one()
            time.sleep(0.0 if writer.state().trouble else 0.001)
        assert writer.lost_messages == 25
        assert "25 are lost" in (writer.state().trouble or "")
        disk.free()
        eventually(lambda: writer.state().trouble is None)
        for _ in range(10):
            write_one()
    recording = read_recording(path)
    assert list(recording.packets()) == taken
    assert recording.report.holes == [
        Hole(lost[0].received_ns, lost[-1].received_ns, 25, "disk_full")
    ]
    assert recording.report.sentences() == [
        "The recording has a hole of 25 messages (0.2 s): disk full."
    ]


@pytest.mark.usefixtures("quick")
@pytest.mark.fault(
    "the disk is full from the beginning",
    "it is said at once; recording begins when there is space",
)
def test_disk_full_from_the_beginning(disk: FullDisk) -> None:
    path = disk.folder / "late.mcap"
    disk.fill(None)
    with RecordingWriter(path, layout_text="name = 'x'") as writer:
        assert writer.state().trouble is not None
        for sent in packets(20):
            writer.write(sent)
        disk.free()
    recording = read_recording(path)
    assert recording.metadata["layout"] == {"toml": "name = 'x'"}
    assert list(recording.packets()) == packets(20)


@pytest.mark.usefixtures("quick")
@pytest.mark.fault(
    "the session ends while the disk is full",
    "it is said how many messages are not on the disk",
)
def test_closing_on_a_full_disk_says_what_is_missing(disk: FullDisk) -> None:
    path = disk.folder / "end.mcap"
    writer = RecordingWriter(path)
    writer.write(packet(0))
    eventually(lambda: writer.synced_messages == 1)
    disk.fill(path)
    numbers = count(1)
    while writer.state().trouble is None:
        writer.write(packet(next(numbers)))
        time.sleep(0.001)
    synced = writer.synced_messages
    with pytest.raises(RecordingIncompleteError, match=r"end\.mcap are not on the disk"):
        writer.close()
    assert list(read_recording(path).packets()) == packets(synced)
    # The limit is the whole process's: pytest's own report must not meet it.
    disk.free()


@pytest.mark.usefixtures("quick")
@pytest.mark.fault(
    "the disk is very slow",
    "the feed never waits for it; what waits is counted",
)
def test_a_slow_disk_never_holds_the_feed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one append hangs, `write` returns; what it cannot take is counted and marked."""
    monkeypatch.setattr(writer_module, "MAX_WAITING", 30)
    hangs, go_on = threading.Event(), threading.Event()
    real = DurableFile.append

    def slow(self: DurableFile, data: bytes) -> None:
        if self.length:  # the head goes through
            hangs.set()
            go_on.wait(20.0)
        real(self, data)

    monkeypatch.setattr(DurableFile, "append", slow)
    path = tmp_path / "slow.mcap"
    sent = packets(50)
    with RecordingWriter(path) as writer:
        assert writer.write(sent[0])
        assert hangs.wait(20.0)
        assert [writer.write(p) for p in sent[1:]] == [True] * 30 + [False] * 19
        assert writer.lost_messages == 19
        assert writer.state().trouble is None
        assert writer.state().unsynced_s > 0.0
        go_on.set()
    recording = read_recording(path)
    assert list(recording.packets()) == sent[:31]
    assert recording.report.holes == [
        Hole(sent[31].received_ns, sent[49].received_ns, 19, "slow_disk")
    ]


@given(st.lists(st.sampled_from([0, 150, 400, 400, 600, None]), max_size=60))
def test_the_queue_accounts_for_every_message_in_order(steps: list[int | None]) -> None:
    """A number puts a message of that size, None takes all."""
    intake = Intake(max_messages=5, max_bytes=1000, wake_bytes=500)
    out: list[Entry | Hole] = []
    numbers = count()
    accepted: list[int] = []
    for step in [*steps, None]:
        if step is None:
            out += intake.take()
        else:
            number = next(numbers)
            if intake.put(Entry(FORCE, bytes(step), number, None), number):
                accepted.append(number)
    seen: list[int] = []
    for item in out:
        if isinstance(item, Hole):
            seen += range(item.from_ns, item.to_ns + 1)
            assert item.messages == item.to_ns + 1 - item.from_ns
        else:
            seen.append(item.log_ns)
    assert seen == list(range(next(numbers)))
    assert [e.log_ns for e in out if isinstance(e, Entry)] == accepted
    assert intake.lost == len(seen) - len(accepted)
    assert intake.oldest_ns is None


def test_outputs_and_device_time_are_recorded(tmp_path: Path) -> None:
    from mcap.reader import make_reader

    path = tmp_path / "a.mcap"
    with RecordingWriter(path) as writer:
        writer.write(packet(3))
        writer.write(packet(4), publish_ns=77)
        writer.write(Packet(FORCE, b"not a message", EPOCH_NS))
        writer.write_output("moundfeed/mound-a/pitch", b'{"v":1}', EPOCH_NS + 9)
    with path.open("rb") as file:
        rows = [
            (c.topic, c.message_encoding, m.publish_time, m.log_time)
            for _, c, m in make_reader(file).iter_messages(log_time_order=False)
        ]
    assert rows == [
        (FORCE, "msgpack", 30_000_000, EPOCH_NS + 30_000_000),
        (FORCE, "msgpack", 77, EPOCH_NS + 40_000_000),
        (FORCE, "msgpack", EPOCH_NS, EPOCH_NS),
        ("moundfeed/mound-a/pitch", "json", EPOCH_NS + 9, EPOCH_NS + 9),
    ]


def test_a_strangers_topics_are_not_recorded(tmp_path: Path) -> None:
    path = tmp_path / "a.mcap"
    with RecordingWriter(path) as writer:
        for topic in ("", "moundfeed/../force", "moundfeed/a/force/x", "other", "recording/hole"):
            assert not writer.write(Packet(topic, b"x", EPOCH_NS))
        assert writer.write(packet(0))
    assert [p.topic for p in read_recording(path).packets()] == [FORCE]
    assert writer.lost_messages == 0


@pytest.mark.usefixtures("quick")
@pytest.mark.fault(
    "somebody deletes the recording while it is written",
    "it is said within a second",
)
def test_a_deleted_file_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "gone.mcap"
    with RecordingWriter(path) as writer:
        assert writer.state().trouble is None
        path.unlink()
        assert "has been deleted" in (writer.state().trouble or "")


@pytest.mark.usefixtures("quick")
def test_an_error_in_the_recorder_is_not_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer = RecordingWriter(tmp_path / "a.mcap")
    monkeypatch.setattr(writer, "_add", lambda entry: 1 / 0)
    writer.write(packet(0))
    eventually(lambda: writer.state().trouble is not None)
    assert "The recorder has failed (ZeroDivisionError" in (writer.state().trouble or "")
    assert not writer.write(packet(1))
    with pytest.raises(RecordingIncompleteError, match="ZeroDivisionError"):
        writer.close()
