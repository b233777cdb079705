"""From what the detector found to what is told: pitches, movements not counted, foot contacts."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from stream.counting import Verdict, stands_ready
from stream.feet import FeetModel
from stream.findings import LandingSeen, MovementEnded
from stream.outputs import (
    FootContact,
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Pitch,
    PitchRecord,
)
from stream.report import Measured, measure
from stream.roster import Roster
from stream.settings import Settings
from stream.wire import Samples


class Window(msgspec.Struct, frozen=True, eq=False):
    """A movement's raw frames ``samples`` (n, channels) at ``rate_hz``, of which stream.

    The samples may be a view of what is overwritten later.
    """

    samples: Samples
    ended: MovementEnded
    rate_hz: float
    stream: str


class Told(msgspec.Struct, frozen=True, eq=False):
    """A pitch, the frame near which the foot ``landed``, and how it is measured for another."""

    pitch: Pitch
    landed: float
    remeasure: Callable[[str], PitchRecord]


class Teller:
    """Measures the movements of one mound."""

    def __init__(self, source: str, roster: Roster, feet: FeetModel, settings: Settings) -> None:
        self._source = source
        self._roster = roster
        self._feet = feet
        self._settings = settings

    def landing(self, seen: LandingSeen, stream: str) -> FootContact:
        """Return the foot contact that was seen as it happened."""
        return FootContact(self._source, stream, seen.contact, seen.seen, seen.weight)

    def movement(self, window: Window, pitcher: str, number: int) -> Told | NotCounted | None:
        """Return the pitch in ``window`` or why it is none; None for what is no delivery at all.

        ``pitcher`` is the code of who throws, ``number`` the pitch's if it is one.
        """
        found = self._measured(window, pitcher)
        if found is None:
            return None
        if isinstance(found, Verdict):
            ended = window.ended
            frame = ended.stance.end if ended.landing is None else ended.landing
            return self._not_counted(found.reason, found.why, frame, window.stream)
        record = self._record(found, window, number, pitcher)
        kept = msgspec.structs.replace(window, samples=window.samples.copy())

        def remeasure(code: str) -> PitchRecord:
            # It keeps the record and not what was measured: that holds the traces of each pitch.
            anew = self._measured(kept, code)
            if isinstance(anew, Measured):
                return self._record(anew, kept, number, code)
            throws = self._roster.find(code).throws
            return msgspec.structs.replace(record, pitcher=code, throws=throws)

        contact = found.foot_contact_frame
        landed = float(window.ended.landing or window.ended.end) if contact is None else contact
        return Told(Pitch(record, found.traces), landed, remeasure)

    def interrupted(self, window: Window) -> NotCounted | None:
        """Return that the feed broke off a delivery, or may have; None if nobody was ready."""
        ended = window.ended
        why = "the feed broke off during the landing"
        if ended.landing is None:
            quiet = window.samples[slice(*ended.quiet)]
            if not stands_ready(self._feet, quiet, ended.zero.tare, ended.stance.load):
                return None
            why = (
                "the feed broke off while the pitcher was set or moving, so a pitch may be missing"
            )
        return self._not_counted(NotCountedReason.FEED_GAP, why, ended.end, window.stream)

    def _measured(self, window: Window, code: str) -> Measured | Verdict | None:
        pitcher = self._roster.find(code)
        return measure(
            window.samples, window.ended, pitcher, self._feet, self._settings, window.rate_hz
        )

    def _record(self, found: Measured, window: Window, number: int, code: str) -> PitchRecord:
        return PitchRecord(
            source=self._source,
            stream=window.stream,
            number=number,
            pitcher=code,
            throws=self._roster.find(code).throws,
            foot_contact_frame=found.foot_contact_frame,
            events_s=found.events_s,
            body_weight_n=found.weight_n,
            metrics=found.metrics,
            estimated=found.estimated,
            flags=found.flags,
        )

    def _not_counted(
        self, reason: NotCountedReason, why: str, frame: int, stream: str
    ) -> NotCounted:
        return NotCounted(NotCountedRecord(self._source, stream, reason, float(frame), why))
