"""What the operator changed, from a session's log onto its pitches, by the core's own book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Any

import msgspec

from stream.actions import Action, EnterSpeed, Note, Reassign, Restore, Void, decode_action
from stream.book import VOID, Book
from stream.outputs import PitchRecord
from stream.wire import WireError

Change = Void | Restore | Note | EnterSpeed | Reassign


def actions_of(log: Iterable[Mapping[str, Any]]) -> tuple[Action, ...]:
    """Return what the operator did by ``log``, in order; a line that is no action is left out."""
    actions = (_action(entry) for entry in log if entry.get("what") == "action")
    return tuple(action for action in actions if action is not None)


def changes_of(log: Iterable[Mapping[str, Any]]) -> tuple[Change, ...]:
    """Return the changes of pitches in ``log``, in order."""
    return tuple(action for action in actions_of(log) if isinstance(action, Change))


def apply_changes(
    source: str,
    records: Sequence[PitchRecord],
    changes: Sequence[Change],
    measure_for: Callable[[PitchRecord, str], PitchRecord],
) -> tuple[PitchRecord, ...]:
    """Return ``records`` by number with ``changes`` carried out (see :func:`book_of`)."""
    return tuple(book_of(source, records, changes, measure_for).records.values())


def book_of(
    source: str,
    records: Sequence[PitchRecord],
    changes: Sequence[Change],
    measure_for: Callable[[PitchRecord, str], PitchRecord],
) -> Book:
    """Return the book of settled ``records`` with ``changes`` carried out.

    A stored record already holds what was changed before its line was
    written. Void and note are therefore taken back first, so that all of
    them act in their order; of the pitchers given to one pitch only the last
    counts. ``measure_for(record, code)`` gives the record for another pitcher.
    """
    texts = {c.number for c in changes if isinstance(c, Void | Restore | Note)}
    last = {c.number: c for c in changes if isinstance(c, Reassign)}
    book = Book(source, first_number=1)
    for record in sorted(records, key=lambda r: r.number):
        plain = _without_texts(record) if record.number in texts else record
        book.recall(plain, partial(measure_for, plain))
    for change in changes:
        if not isinstance(change, Reassign) or change is last[change.number]:
            book.act(change)
    return book


def _action(entry: Mapping[str, Any]) -> Action | None:
    try:
        return decode_action(msgspec.json.encode(entry))
    except WireError:
        return None


def _without_texts(record: PitchRecord) -> PitchRecord:
    flags = tuple(f for f in record.flags if f != VOID)
    return msgspec.structs.replace(record, flags=flags, note="")
