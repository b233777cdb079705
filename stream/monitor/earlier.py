"""A session that goes on: what its earlier runs told, for the core and for viewers."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from stream.book import Book
from stream.changes import book_of, changes_of
from stream.files import FileError
from stream.monitor import words
from stream.outputs import NotCountedRecord, PitchRecord
from stream.recording.head import RecordingError
from stream.recording.recovery import recover
from stream.recording.session import Session
from stream.roster import Roster
from stream.snapshot import Sentence
from stream.wire import NS


@dataclass(frozen=True)
class Earlier:
    """The book of the pitches with the operator's changes, movements, and what is to be said.

    ``pitcher`` is the code of who was throwing as the last run was cut off,
    empty where it was not or nobody was named.
    """

    book: Book
    movements: tuple[NotCountedRecord, ...]
    notices: tuple[Sentence, ...]
    pitcher: str

    @property
    def pitches(self) -> tuple[PitchRecord, ...]:
        """The pitches by number, as they stand."""
        return tuple(self.book.records.values())


def take_up(session: Session, roster: Roster, now_ns: int) -> Earlier:
    """Return what ``session`` holds already; what a run that was cut off lacks is found first.

    ``now_ns`` is the host time from which on it is recorded again.
    """
    notices, pitcher = _recovered(session, now_ns)
    records = list(session.pitches())
    pitches = {r.number: r for r in records if isinstance(r, PitchRecord)}
    changes = changes_of(session.log())

    def of_another(record: PitchRecord, code: str) -> PitchRecord:
        return for_another(record, code, roster)

    return Earlier(
        book_of(session.about.source, list(pitches.values()), changes, of_another),
        tuple(r for r in records if isinstance(r, NotCountedRecord)),
        notices,
        pitcher,
    )


def for_another(record: PitchRecord, code: str, roster: Roster) -> PitchRecord:
    """Return a settled pitch for the pitcher with ``code``; its numbers stay as they are.

    Where handedness, height or weigh-in differ they no longer hold and are
    taken out; measuring the session again from its recording gives them.
    """
    before, after = roster.find(record.pitcher), roster.find(code)
    facts = ("throws", "height_m", "weigh_in_kg")
    given = msgspec.structs.replace(record, pitcher=code, throws=after.throws)
    if all(getattr(before, fact) == getattr(after, fact) for fact in facts):
        return given
    return msgspec.structs.replace(
        given,
        metrics=dict.fromkeys(record.metrics),
        body_weight_n=None,
        flags=tuple(sorted({*record.flags, "not_measured_again"})),
    )


def _recovered(session: Session, now_ns: int) -> tuple[tuple[Sentence, ...], str]:
    """Return what is to be said of a run that was cut off, and who was throwing then."""
    pitcher = ""
    try:
        found = recover(session)
    except (FileError, RecordingError) as error:
        notice = words.not_found_again(session.recordings()[-1].name, error)
    else:
        pitcher = found.pitcher
        if found.ended_ns is None:
            return (), pitcher
        numbers = [r.number for r in found.records if isinstance(r, PitchRecord)]
        movements = len(found.records) - len(numbers)
        missed_s = (now_ns - found.ended_ns) / NS
        notice = words.found_again(numbers, movements, len(found.actions), pitcher, missed_s)
    return (notice,), pitcher
