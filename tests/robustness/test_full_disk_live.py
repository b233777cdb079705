"""The disk fills up in a live session with somebody looking on."""

from __future__ import annotations

import asyncio
import resource
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from stream.monitor.presence import runtime_folder
from stream.monitor.process import start_monitor, stop_monitor
from stream.monitor.viewer import ViewerLink
from stream.outputs import PitchRecord
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.recording.writer import MAX_WAITING_BYTES
from stream.snapshot import Level
from stream.wire import ForceMessage, decode_force, encode_force
from tests.robustness.bullpen import SOURCE, Mound, invented, monitor_plan
from tests.transport.waiting import eventually

Measured = Callable[[str], None]


class Limit:
    """A limit on the size of any file that another process writes: to it, a full disk."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self._before = resource.prlimit(pid, resource.RLIMIT_FSIZE)

    def full_at(self, size: int) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, (size, self._before[1]))

    def free(self) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, self._before)


def blocks(recording: Path) -> list[int]:
    packets = read_recording(recording).packets()
    return [decode_force(p.payload).first_frame for p in packets if p.topic.endswith("/force")]


@pytest.mark.fault(
    "the disk is full while the live view is on, and later has space again",
    "a loud plain warning on the screen; view and measurement go on; the recording goes on by "
    "itself, in order and without a hole",
)
async def test_full_disk_with_the_live_view_on(tmp_path: Path, measured: Measured) -> None:
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    recording = session / "recording-001.mcap"
    feed = invented()
    with Mound() as mound:
        presence = await asyncio.to_thread(start_monitor, monitor_plan(mound.url, session), runtime)
        limit = Limit(presence.pid)
        async with ViewerLink(runtime) as link:
            mound.send(feed[: len(feed) // 3])
            await eventually(lambda: link.latest and link.latest.feed.frames > 500)
            await eventually(lambda: recording.stat().st_size > 20_000)
            limit.full_at(recording.stat().st_size)
            mound.send(feed[len(feed) // 3 :])
            await eventually(lambda: any("NOT RECORDING" in s.text for s in link.sentences))
            loud = next(s for s in link.sentences if "NOT RECORDING" in s.text)
            assert loud.level is Level.ALARM
            assert "goes on by itself" in loud.text
            assert link.latest is not None
            before = link.latest.feed.frames
            await eventually(lambda: link.latest and link.latest.feed.frames > before + 500)
            await eventually(lambda: mound.waiting == 0)
            await eventually(lambda: len(link.pitches) == 2)
            stuck = recording.stat().st_size
            limit.free()
            await eventually(lambda: recording.stat().st_size > stuck)
            await eventually(lambda: not any("NOT RECORDING" in s.text for s in link.sentences))
        await asyncio.to_thread(stop_monitor, runtime)
    sent = [decode_force(p).first_frame for topic, p in feed if topic.endswith("/force")]
    kept = blocks(recording)
    assert kept == sent[-len(kept) :], "in order, nothing missing"
    assert len(sent) - len(kept) < 50, "only what came before the monitor listened"
    whole = read_recording(recording)
    assert sum(1 for _ in whole.packets()) > 0
    assert not whole.truncated
    assert whole.report.holes == []
    told = [r for r in Session.open(session).pitches() if isinstance(r, PitchRecord)]
    assert len(told) == 2
    measured(f"2 pitches measured meanwhile; {len(kept)} blocks in order afterwards, 0 missing")


@pytest.mark.fault(
    "the disk stays full for longer than memory lasts",
    "what is missing is counted, and marked in the recording as a hole from when to when",
)
async def test_full_disk_for_long_leaves_a_marked_hole(tmp_path: Path, measured: Measured) -> None:
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    recording = session / "recording-001.mcap"
    samples = np.zeros((2000, 12), np.float32)
    large = [
        (f"moundfeed/{SOURCE}/force",
         encode_force(ForceMessage(SOURCE, "s", 2000 * i, 10_000_000_000 * i, 200.0, samples)))
        for i in range(900)
    ]  # fmt: skip
    # More than the queue holds together with what was taken out of it just before.
    assert 750 * len(large[0][1]) > 2 * MAX_WAITING_BYTES
    with Mound() as mound:
        presence = await asyncio.to_thread(start_monitor, monitor_plan(mound.url, session), runtime)
        limit = Limit(presence.pid)
        async with ViewerLink(runtime) as link:
            mound.send(large[:50])
            await eventually(lambda: recording.exists() and recording.stat().st_size > 1000)
            await eventually(lambda: mound.waiting == 0)
            limit.full_at(recording.stat().st_size)
            mound.send(large[50:800])
            await eventually(
                lambda: any("are lost" in s.text and ", 0 are" not in s.text
                            for s in link.sentences)
            )  # fmt: skip
            await eventually(lambda: mound.waiting == 0)
            await eventually(lambda: link.latest and link.latest.feed.frames >= 2000 * 800)
            limit.free()
            await eventually(lambda: not any("NOT RECORDING" in s.text for s in link.sentences))
            mound.send(large[800:])
            await eventually(lambda: link.latest and link.latest.feed.frames >= 2000 * 900)
        await asyncio.to_thread(stop_monitor, runtime)
    kept = blocks(recording)
    whole = read_recording(recording)
    assert sum(1 for _ in whole.packets()) >= len(kept)
    assert kept == sorted(set(kept)), "in order, nothing twice"
    holes = whole.report.holes
    assert holes
    assert {hole.why for hole in holes} == {"disk_full"}
    assert sum(hole.messages for hole in holes) == len(large) - len(kept)
    measured(
        f"{len(large) - len(kept)} of {len(large)} messages missing, all of them in "
        f"{len(holes)} marked hole{'s' if len(holes) > 1 else ''}"
    )
