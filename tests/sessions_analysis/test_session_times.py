"""When a session began and when a frame was, from the recording and without measuring."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from analysis.sessions.clock import FIRST_DAY_NS, day_of, host_times
from analysis.sessions.measured import measure
from analysis.sessions.stored import read_session
from stream.recording.plain import PlainWriter
from stream.recording.reader import Recording, read_recording
from stream.recording.session import Session
from stream.wire import Packet
from tests.sessions_analysis.made import SOURCE


def test_a_session_began_with_its_first_message(kept: Path, simulated: Recording) -> None:
    first = next(simulated.packets()).received_ns
    began = read_session(kept).began
    assert began == datetime.fromtimestamp(first // 1000 / 1e6, UTC)
    # The folder was made by this test, years after the invented recording.
    assert began.year < datetime.fromisoformat(read_session(kept).about.created).year


def test_without_a_recording_the_folder_tells(session: Session) -> None:
    for path in session.recordings():
        path.unlink()
    created = datetime.fromisoformat(session.about.created)
    assert read_session(session.folder).began == created


def test_a_first_recording_that_cannot_be_read_is_passed_over(session: Session) -> None:
    first, second = session.recordings()
    first.write_bytes(b"no recording")
    began = read_session(session.folder).began
    second.unlink()
    assert began < datetime.fromisoformat(session.about.created)
    assert read_session(session.folder).began == datetime.fromisoformat(session.about.created)


def test_without_any_day_the_file_tells(session: Session) -> None:
    for path in session.recordings():
        path.unlink()
    file = session.folder / "session.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | {"created": "yesterday"}))
    stamp = datetime.fromtimestamp(file.stat().st_mtime, UTC)
    assert read_session(session.folder).began == stamp


def test_a_clock_that_begins_at_nothing_tells_no_day() -> None:
    assert day_of(None) is None
    assert day_of(12_000_000_000) is None
    # Seconds of 2000-01-01 by POSIX: 30 years and 7 leap days.
    assert FIRST_DAY_NS == (30 * 365 + 7) * 86_400 * 10**9
    assert day_of(FIRST_DAY_NS) == datetime(2000, 1, 1, tzinfo=UTC)


def test_frames_have_the_times_that_measuring_gives(kept: Path) -> None:
    stored = read_session(kept)
    moments = [(r.stream, r.foot_contact_frame or 0.0) for r in stored.pitches]
    *found, other = host_times(stored.recordings, SOURCE, [*moments, ("another", 5.0)])
    assert other is None
    for pitch, at_ns in zip(measure(stored).pitches, found, strict=True):
        assert at_ns is not None
        assert at_ns / 1e9 == pytest.approx(pitch.at_ns / 1e9, abs=0.02)


def test_a_frame_carried_again_after_a_new_start_has_the_later_time(
    kept: Path, tmp_path: Path
) -> None:
    """The device begins anew at frame 0 and does not say so by another stream value."""
    stored = read_session(kept)
    first = stored.recordings[0]
    hour_ns = 3600 * 10**9
    with PlainWriter(again := tmp_path / "again.mcap") as writer:
        for packet in read_recording(first).packets():
            later = packet.received_ns + hour_ns
            writer.write(Packet(packet.topic, packet.payload, later), later)
    stream = stored.pitches[0].stream
    moments = [(stream, frame) for frame in (400.0, 900.0, 400.0, 400.0, 300.0)]
    found = [at for at in host_times([first, again], SOURCE, moments) if at is not None]
    a, b, c, d, e = found
    assert (c, d) == (a + hour_ns, a + hour_ns)
    assert b == pytest.approx(a + 2.5e9, abs=2e7)
    assert e == pytest.approx(a - 0.5e9, abs=2e7), "none is later: the first"


def test_a_frame_that_no_message_carries_has_no_time(kept: Path) -> None:
    stored = read_session(kept)
    stream = stored.pitches[0].stream
    assert host_times(stored.recordings, SOURCE, [(stream, 1e9)]) == (None,)
    assert host_times(stored.recordings, "another", [(stream, 500.0)]) == (None,)
    assert host_times([kept / "none.mcap", kept / "log.jsonl"], SOURCE, [(stream, 5.0)]) == (None,)
    assert host_times((), SOURCE, [(stream, 500.0)]) == (None,)
