"""The pitches told so far: numbers, ball speeds, and what the operator changed.

A ball speed belongs to the pitch whose foot contact is 0 to 3 s before it, by
the device clock. It may come before its pitch is measured, so it waits until
no such pitch can come any more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import msgspec

from stream.actions import Action, EnterSpeed, Note, Reassign, Restore, Void
from stream.outputs import Fault, Output, PitchChanged, PitchClosed, PitchRecord, UnpairedSpeed
from stream.wire import SpeedMessage

VOID = "void"
TYPED_SPEED = "speed_typed"
_OPERATORS = {VOID, TYPED_SPEED}
PAIR_WITHIN_NS = 3_000_000_000
#: By then a delivery whose foot contact lay before a ball speed has been measured.
MEASURED_WITHIN_NS = 1_500_000_000
#: Pitches further back than this are settled; the operator can still change them by number.
OPEN_AT_MOST = 8
#: Ball speeds that wait for their pitch; a clock that is far ahead must not heap them up.
WAITING_AT_MOST = 16


Remeasure = Callable[[str], PitchRecord]


@dataclass(slots=True)
class _Entry:
    record: PitchRecord
    #: Foot contact by the device clock as it reads now; None where that clock knows nothing of it.
    contact_ns: int | None
    remeasure: Remeasure | None
    closed: bool = False
    #: The operator's note; while the pitch is void its record may show the reason instead.
    note: str = ""
    #: The ball speed that was received, m/s: given again, it is not a typed one.
    received_mps: float | None = None

    def __post_init__(self) -> None:
        if VOID not in self.record.flags:
            self.note = self.record.note
        if TYPED_SPEED not in self.record.flags:
            self.received_mps = self.record.speed_mps


class Book:
    """The pitches of one mound in one session."""

    def __init__(self, source: str, first_number: int) -> None:
        self._source = source
        self._entries: dict[int, _Entry] = {}
        self._waiting: list[SpeedMessage] = []
        self.next_number = first_number
        #: Pitches that can be measured anew however far back they are; each costs its window.
        self.never_settled: frozenset[int] = frozenset()

    @property
    def records(self) -> Mapping[int, PitchRecord]:
        """Every pitch so far by number."""
        return {number: entry.record for number, entry in self._entries.items()}

    @property
    def count(self) -> int:
        """How many pitches were told."""
        return len(self._entries)

    def last_weight_n(self, pitcher: str) -> float | None:
        """Return the body weight (N) of the pitcher's newest pitch that is not void; None: none."""
        for entry in reversed(self._entries.values()):
            record = entry.record
            if record.pitcher == pitcher and VOID not in record.flags:
                return record.body_weight_n
        return None

    def add(self, record: PitchRecord, contact_ns: int, remeasure: Remeasure) -> None:
        """Enter a newly measured pitch.

        ``contact_ns`` is its foot contact by the device clock; ``remeasure``
        measures it anew for another pitcher's code.
        """
        self._entries[record.number] = _Entry(record, contact_ns, remeasure)
        self.next_number = record.number + 1
        number = record.number - OPEN_AT_MOST
        settled = self._entries.get(number)
        if settled is not None and number not in self.never_settled:
            settled.remeasure = None

    def recall(self, record: PitchRecord, remeasure: Remeasure | None = None) -> None:
        """Enter a pitch of an earlier run: it is settled, and can still be changed by number."""
        self._entries[record.number] = _Entry(record, None, remeasure, closed=True)
        self.next_number = max(self.next_number, record.number + 1)

    def speed(self, message: SpeedMessage) -> list[Output]:
        """Take a ball speed; pair it now if its pitch is known."""
        paired = self._pair(message)
        if paired is not None:
            return [paired]
        self._waiting.append(message)
        if len(self._waiting) <= WAITING_AT_MOST:
            return []
        oldest = self._waiting.pop(0)
        return [UnpairedSpeed(oldest.source, oldest.t_ns, oldest.speed_mps)]

    def pass_time(self, now_ns: int) -> list[Output]:
        """The device clock has come to ``now_ns``: settle speeds and pitches that are due."""
        out: list[Output] = []
        if self._waiting:
            out += self._settle_speeds(now_ns)
        for entry in list(self._entries.values())[-OPEN_AT_MOST:]:
            if entry.closed or entry.contact_ns is None:
                continue
            if now_ns >= entry.contact_ns + PAIR_WITHIN_NS + MEASURED_WITHIN_NS:
                entry.closed = True
                out.append(PitchClosed(entry.record))
        return out

    def set_clock(self, by_ns: int) -> None:
        """Somebody set the device clock by ``by_ns``: what was told by it is told anew."""
        for entry in list(self._entries.values())[-OPEN_AT_MOST:]:
            if entry.contact_ns is not None:
                entry.contact_ns += by_ns
        self._waiting = [msgspec.structs.replace(m, t_ns=m.t_ns + by_ns) for m in self._waiting]

    def begin_anew(self) -> list[Output]:
        """The device has started again: settle everything, its clock may be any other one."""
        out = self.finish()
        for entry in list(self._entries.values())[-OPEN_AT_MOST:]:
            entry.contact_ns = None
        return out

    def finish(self) -> list[Output]:
        """The feed has ended: settle everything."""
        out = self._settle_speeds(None)
        for entry in self._entries.values():
            if not entry.closed:
                entry.closed = True
                out.append(PitchClosed(entry.record))
        return out

    def act(self, action: Action) -> list[Output]:
        """Carry out an operator's change of a pitch."""
        match action:
            case Void() | Restore() | Note() | EnterSpeed() | Reassign():
                entry = self._entries.get(action.number)
            case _:
                return []
        if entry is None:
            return [
                Fault(
                    self._source, "no_such_pitch", f"There is no pitch {action.number} to change."
                )
            ]
        return [self._change(entry, action)]

    def _change(
        self, entry: _Entry, action: Void | Restore | Note | EnterSpeed | Reassign
    ) -> Output:
        record = entry.record
        match action:
            case Void(reason=reason):
                entry.record = _marked(record, VOID, note=reason or record.note)
            case Restore():
                entry.record = _unmarked(record, VOID, note=entry.note)
            case Note(text=text):
                entry.note = text
                entry.record = msgspec.structs.replace(record, note=text)
            case EnterSpeed(speed_mps=None):
                entry.record = _unmarked(record, TYPED_SPEED, speed_mps=None)
            case EnterSpeed(speed_mps=speed) if speed == entry.received_mps:
                entry.record = _unmarked(record, TYPED_SPEED, speed_mps=speed)
            case EnterSpeed(speed_mps=speed):
                entry.record = _marked(record, TYPED_SPEED, speed_mps=speed)
            case Reassign(pitcher=code):
                if entry.remeasure is None:
                    return Fault(
                        self._source,
                        "settled_pitch",
                        f"Pitch {record.number} is too far back to be measured anew for {code!r}; "
                        "recompute the session from its recording instead.",
                    )
                fresh = entry.remeasure(code)
                # What the operator set is as it stands now, whenever ``fresh`` is of.
                kept = set(record.flags) & _OPERATORS
                entry.record = msgspec.structs.replace(
                    fresh,
                    flags=tuple(sorted(kept.union(set(fresh.flags) - _OPERATORS))),
                    speed_mps=record.speed_mps,
                    note=record.note,
                )
        return PitchChanged(entry.record)

    def _pair(self, message: SpeedMessage) -> PitchChanged | None:
        for entry in reversed(list(self._entries.values())[-OPEN_AT_MOST:]):
            if entry.contact_ns is None or entry.record.speed_mps is not None:
                continue
            if 0 <= message.t_ns - entry.contact_ns <= PAIR_WITHIN_NS:
                entry.received_mps = message.speed_mps
                entry.record = msgspec.structs.replace(entry.record, speed_mps=message.speed_mps)
                return PitchChanged(entry.record)
        return None

    def _settle_speeds(self, now_ns: int | None) -> list[Output]:
        out: list[Output] = []
        still: list[SpeedMessage] = []
        for message in self._waiting:
            paired = self._pair(message)
            if paired is not None:
                out.append(paired)
            elif now_ns is None or now_ns >= message.t_ns + MEASURED_WITHIN_NS:
                out.append(UnpairedSpeed(message.source, message.t_ns, message.speed_mps))
            else:
                still.append(message)
        self._waiting = still
        return out


def _marked(record: PitchRecord, flag: str, **changes: object) -> PitchRecord:
    flags = tuple(sorted({*record.flags, flag}))
    return msgspec.structs.replace(record, flags=flags, **changes)


def _unmarked(record: PitchRecord, flag: str, **changes: object) -> PitchRecord:
    flags = tuple(f for f in record.flags if f != flag)
    return msgspec.structs.replace(record, flags=flags, **changes)
