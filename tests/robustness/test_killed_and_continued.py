"""Killed without warning: what was told stays told, and its number is never given again."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from stream.actions import ChoosePitcher, Note, Restore, Void
from stream.monitor.presence import runtime_folder
from stream.monitor.process import start_monitor, stop_monitor
from stream.monitor.viewer import ViewerLink
from stream.outputs import PitchRecord, record_json
from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.robustness.bullpen import SOURCE, Mound, as_stream, invented, monitor_plan, until_told
from tests.transport.waiting import eventually

Measured = Callable[[str], None]


def pitches_of(session: Path) -> list[PitchRecord]:
    return [r for r in Session.open(session).pitches() if isinstance(r, PitchRecord)]


def synced(recording: Path, pitches: int) -> Callable[[], bool]:
    """Whether so many pitches are on the disk in ``recording``."""

    def look() -> bool:
        packets = read_recording(recording).packets()
        return sum(packet.topic.endswith("/pitch") for packet in packets) >= pitches

    return look


@pytest.mark.fault(
    "the monitor is killed (kill -9) after a pitch was told and before it was written",
    "the next run finds the pitch in the recording, to the last bit; no number is used twice; "
    "voids and notes of the earlier run are shown and can be changed",
)
async def test_a_pitch_told_and_not_written_is_found_again(
    tmp_path: Path, measured: Measured
) -> None:
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    with Mound() as mound:
        plan = monitor_plan(mound.url, session)
        first = await asyncio.to_thread(start_monitor, plan, runtime)
        async with ViewerLink(runtime) as link:
            mound.send(until_told(2))
            await eventually(lambda: len(link.pitches) == 2)
            chosen = ChoosePitcher(source=SOURCE, t_ns=0, pitcher="DEV-3")
            assert await link.act(chosen) is None
            assert await link.act(Note(source=SOURCE, t_ns=1, number=1, text="high")) is None
            assert await link.act(Void(source=SOURCE, t_ns=2, number=1, reason="slipped")) is None
            await eventually(lambda: "void" in link.pitches[0].record.flags)
            await eventually(lambda: link.pitches[1].record.speed_mps is not None)
            told = {p.record.number: p.record for p in link.pitches}
            await eventually(synced(session / "recording-001.mcap", 4))
            await eventually(lambda: len(list(Session.open(session).log())) >= 2)
            os.kill(first.pid, signal.SIGKILL)
            await eventually(lambda: link.lost)
        written = [record.number for record in pitches_of(session)]
        assert 2 not in written, "the feed stood still before the pitch could be written"

        await asyncio.to_thread(start_monitor, plan, runtime)
        async with ViewerLink(runtime) as link:
            mound.send(as_stream(invented(), "again"))
            await eventually(lambda: len(link.pitches) == 4)
            assert [p.record.number for p in link.pitches] == [1, 2, 3, 4]
            assert link.pitches[0].record.flags == told[1].flags
            assert link.pitches[0].record.note == "slipped"
            assert any("cut off" in s.text and "pitch 2" in s.text for s in link.sentences)
            assert any("DEV-3 was throwing and still is" in s.text for s in link.sentences)
            assert [p.record.pitcher for p in link.pitches[2:]] == ["DEV-3", "DEV-3"]
            # What an earlier run told can still be changed.
            assert await link.act(Note(source=SOURCE, t_ns=3, number=2, text="low")) is None
            await eventually(lambda: link.pitches[1].record.note == "low")
            assert await link.act(Restore(source=SOURCE, t_ns=4, number=1)) is None
            await eventually(lambda: "void" not in link.pitches[0].record.flags)
            assert link.pitches[0].record.note == "high", "as before it was void"
        assert await asyncio.to_thread(stop_monitor, runtime)
    kept = {record.number: record for record in pitches_of(session)}
    assert sorted(kept) == [1, 2, 3, 4]
    assert len(pitches_of(session)) == 4, "nothing is written twice"
    assert record_json(kept[2]) == record_json(told[2])
    measured("2 pitches told, 1 written before the kill; 1 found again, 0 numbers used twice")
