"""What a monitor that was killed had told but not yet written, found again in its recording.

A pitch is written when no ball speed can reach it any more, seconds after it
was told. A power cut in between leaves it in the recording alone, and its
number must not be given to another pitch.
"""

from __future__ import annotations

from collections.abc import Iterator

from stream.outputs import NotCounted, NotCountedRecord, Output, PitchClosed, PitchRecord
from stream.recording.head import RecordingError
from stream.recording.reader import Recording, read_recording
from stream.recording.replay import Mounds, setup_of
from stream.recording.session import Session

Record = PitchRecord | NotCountedRecord


def was_cut_off(session: Session) -> bool:
    """Whether the session's last run never closed its recording."""
    paths = session.recordings()
    try:
        return bool(paths) and read_recording(paths[-1]).truncated
    except RecordingError:
        return True


def recover(session: Session) -> list[Record]:
    """Append to ``pitches.jsonl`` what the session's last run measured and did not write.

    Only a recording that was never closed is read; it goes through the core
    again, which gives the same numbers as live. Return what was appended;
    raise RecordingError or FileError where the recording cannot be measured.
    """
    paths = session.recordings()
    if not paths:
        return []
    recording = read_recording(paths[-1])
    if not recording.truncated:
        return []
    known = {_key(record) for record in session.pitches()}
    found = [r for r in _records(recording, session.about.source) if _key(r) not in known]
    for record in found:
        session.add_record(record)
    return found


def _records(recording: Recording, source: str) -> Iterator[Record]:
    mounds = Mounds(setup_of(recording), only=source)
    for batch in recording.batches():
        yield from _closed(mounds.receive_many(batch))
    yield from _closed(mounds.finish())


def _closed(outputs: list[Output]) -> Iterator[Record]:
    for output in outputs:
        if isinstance(output, PitchClosed | NotCounted):
            yield output.record


def _key(record: Record) -> tuple[object, ...]:
    if isinstance(record, PitchRecord):
        return (record.number,)
    return (record.stream, record.frame)
