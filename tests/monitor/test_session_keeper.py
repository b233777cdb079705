"""What is written beside the recording when its place cannot be written."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

from stream.checks.verdict import Report
from stream.files import load_layout
from stream.monitor.keepers import Keeper, SessionKeeper
from stream.monitor.service import Equipment
from stream.outputs import CheckDone, PitchClosed, PitchRecord
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.recording.writer import RecordingWriter
from stream.roster import Roster
from stream.snapshot import Level
from tests.monitor.fakes import HandCore, Rig, packet, record
from tests.transport.waiting import eventually

LAYOUT = load_layout("two-plates")
CHECK = Report(True, (), "mound-a", "two-plates", None)


def begun(folder: Path) -> Session:
    return Session.create(
        folder, source="mound-a", layout_text="x", settings_text="", roster=Roster()
    )


def has_taken(cores: dict[str, HandCore], messages: int) -> bool:
    return len(cores["mound-a"].given) == messages


@pytest.mark.fault(
    "the session's folder is moved away before the first pitch",
    "measuring and recording go on; it is said; the lines are written when it is back",
)
async def test_a_session_folder_that_is_gone_does_not_end_the_monitor(tmp_path: Path) -> None:
    folder, away = tmp_path / "session", tmp_path / "away"
    session = begun(folder)
    writer = RecordingWriter(folder / "recording-001.mcap")
    keeper = SessionKeeper(session)
    cores: dict[str, HandCore] = {}
    keepers: list[Keeper] = [keeper]
    equipment = Equipment(recording=writer, keepers=keepers, servers=[])

    def make(source: str) -> HandCore:
        return cores.setdefault(source, HandCore(source, LAYOUT))

    async with Rig(make, equipment) as rig:
        rig.send(packet(0))
        await eventually(lambda: cores)
        folder.rename(away)
        for number in range(1, 4):
            cores["mound-a"].answers = [PitchClosed(record(number)), CheckDone("mound-a", CHECK)]
            rig.send(packet(number))
            await eventually(partial(has_taken, cores, number + 1))
        await eventually(lambda: keeper.room.trouble)
        told = [s for s in rig.monitor.sentences() if s.key == keeper.room.name]
        assert [s.level for s in told] == [Level.ALARM]
        assert "Its folder is gone. Put it back where it was: 3 lines for pitches.jsonl wait." in (
            told[0].text
        )
        rig.send(packet(4))
        await eventually(partial(has_taken, cores, 5))
        away.rename(folder)
        await eventually(lambda: not keeper.room.trouble)
        assert [r.number for r in session.pitches() if isinstance(r, PitchRecord)] == [1, 2, 3]
    assert await keeper.room.finish()
    writer.close()
    assert len(list(read_recording(writer.path).packets())) == 5
    assert session.check() is not None
    assert sum("result" in entry for entry in session.log()) == 1, "the last check, once"


async def test_what_could_not_be_written_to_the_end_is_not_claimed(tmp_path: Path) -> None:
    folder = tmp_path / "session"
    session = begun(folder)
    keeper = SessionKeeper(session)
    folder.rename(tmp_path / "away")
    keeper.take([PitchClosed(record(1))])
    assert not await keeper.room.finish()
