"""What a monitor that was killed had told but not yet written, found again in its recording.

A pitch is written when no ball speed can reach it any more, seconds after it
was told. A power cut in between leaves it in the recording alone, and its
number must not be given to another pitch. What the operator did stands in the
recording too, and is put back into the log where that lacks it.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import msgspec

from stream.actions import Action, decode_action
from stream.changes import actions_of
from stream.outputs import NotCounted, NotCountedRecord, Output, PitchClosed, PitchRecord
from stream.recording.head import RecordingError
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of
from stream.recording.session import Session
from stream.wire import Packet, TopicKind, WireError, topic

Record = PitchRecord | NotCountedRecord


@dataclass(frozen=True)
class Found:
    """What was found again: records, and what the operator did, each in order.

    ``pitcher`` is the code of who was throwing as the run was cut off, empty
    where nobody was named; ``ended_ns`` is the host time of its last message,
    None where nothing was cut off.
    """

    records: tuple[Record, ...] = ()
    actions: tuple[Action, ...] = ()
    pitcher: str = ""
    ended_ns: int | None = None


def was_cut_off(session: Session) -> bool:
    """Whether the session's last run never closed its recording."""
    paths = session.recordings()
    try:
        return bool(paths) and read_recording(paths[-1]).truncated
    except RecordingError:
        return True


def recover(session: Session) -> Found:
    """Append to ``pitches.jsonl`` and the log what the session's last run did not write.

    Only a recording that was never closed is read; it goes through the core
    again, which gives the same numbers as live. An earlier one needs no look:
    what was found in it was synced before the next recording was begun.
    Return what was found; raise RecordingError or FileError where the
    recording cannot be measured.
    """
    paths = session.recordings()
    if not paths:
        return Found()
    recording = read_recording(paths[-1])
    if not recording.truncated:
        return Found()
    source = session.about.source
    mounds = Mounds(setup_of(recording), only=source)
    records: list[Record] = []
    actions: list[Action] = []
    ended_ns: int | None = None
    for batch in recording.batches():
        ended_ns = batch[-1].received_ns
        actions += _actions(batch, topic(source, TopicKind.OPERATOR))
        records += _records(mounds.receive_many(batch))
    records += _records(mounds.finish())
    written = {_key(record) for record in session.pitches()}
    found = Found(
        tuple(record for record in records if _key(record) not in written),
        tuple(_without(actions, Counter(actions_of(session.log())))),
        mounds.cores[source].pitcher if source in mounds.cores else "",
        ended_ns,
    )
    for action in found.actions:
        session.add_log("action", msgspec.to_builtins(action))
    for record in found.records:
        session.add_record(record)
    return found


def _records(outputs: Iterable[Output]) -> Iterator[Record]:
    for output in outputs:
        if isinstance(output, PitchClosed | NotCounted):
            yield output.record


def _actions(packets: Iterable[Packet], operator: str) -> Iterator[Action]:
    for packet in packets:
        if packet.topic == operator:
            with contextlib.suppress(WireError):  # the core has counted it as a fault
                yield decode_action(packet.payload)


def _without(actions: Iterable[Action], logged: Counter[Action]) -> Iterator[Action]:
    for action in actions:
        if logged[action] > 0:
            logged[action] -= 1
        else:
            yield action


def _key(record: Record) -> tuple[object, ...]:
    if isinstance(record, PitchRecord):
        return (record.number,)
    return (record.stream, record.frame)
