"""What comes out of the core: a few frozen types, the vocabulary of every sink and screen."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec
import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from stream.checks.tare import Tare
    from stream.checks.verdict import Report

Array = npt.NDArray[np.float64]


class NotCountedReason(StrEnum):
    """Why a delivery-like movement is no pitch."""

    STEP_OFF = "step_off"
    NO_LANDING = "no_landing"
    THROW_OVER = "throw_over"
    SECOND_PERSON = "second_person"
    FEED_GAP = "feed_gap"
    OTHER = "other"


class PitchRecord(msgspec.Struct, frozen=True):
    """One pitch; the JSON object of the ``pitch`` topic and of JSON Lines files.

    ``foot_contact_frame`` is a fractional frame index of the device;
    ``events_s`` are seconds from foot contact; what could not be measured is
    None and ``flags`` say why.
    """

    source: str
    stream: str
    number: int
    pitcher: str
    throws: str | None
    foot_contact_frame: float | None
    events_s: Mapping[str, float | None]
    body_weight_n: float | None
    metrics: Mapping[str, float | None]
    estimated: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    speed_mps: float | None = None
    note: str = ""
    v: int = 1


class NotCountedRecord(msgspec.Struct, frozen=True):
    """A delivery-like movement that was not counted, on the same stream as the pitches."""

    source: str
    stream: str
    not_counted: NotCountedReason
    frame: float
    why: str
    v: int = 1


class Traces(msgspec.Struct, frozen=True, eq=False):
    """The measured window of one pitch, for plots and exports; read-only arrays.

    ``time_s`` (n,) from foot contact; ``drive``, ``lead`` (n, 3) N, filtered;
    ``drive_cop``, ``lead_cop`` (n, 2) m, NaN where the foot carries too
    little; ``first_frame`` is the device frame of row 0. All in the mound
    frame, reaction on the pitcher.
    """

    first_frame: int
    rate_hz: float
    time_s: Array
    drive: Array
    lead: Array
    drive_cop: Array
    lead_cop: Array


class FootContact(msgspec.Struct, frozen=True):
    """The lead foot has just landed; ``seen_frame`` is the newest frame when it was told."""

    source: str
    stream: str
    frame: float
    seen_frame: int
    body_weight_n: float


class Pitch(msgspec.Struct, frozen=True, eq=False):
    """A pitch was measured."""

    record: PitchRecord
    traces: Traces


class PitchChanged(msgspec.Struct, frozen=True):
    """A pitch already told has changed: its speed came, or the operator acted."""

    record: PitchRecord


class PitchClosed(msgspec.Struct, frozen=True):
    """No ball speed can reach this pitch any more; one line a pitch goes to JSON Lines."""

    record: PitchRecord


class NotCounted(msgspec.Struct, frozen=True):
    """A delivery-like movement that was not counted."""

    record: NotCountedRecord


class UnpairedSpeed(msgspec.Struct, frozen=True):
    """A ball speed that belongs to no pitch."""

    source: str
    t_ns: int
    speed_mps: float


class Gap(msgspec.Struct, frozen=True):
    """``frames`` frames from ``first_frame`` on never came."""

    source: str
    stream: str
    first_frame: int
    frames: int


class StreamStarted(msgspec.Struct, frozen=True):
    """The device began a new stream; ``restart`` when another had been running."""

    source: str
    stream: str
    first_frame: int
    rate_hz: float
    channels: int
    restart: bool


class ZeroLearnt(msgspec.Struct, frozen=True):
    """A new zero is in force from ``frame`` on; ``load_n`` of steady load was taken out."""

    source: str
    frame: int
    load_n: float
    say: str


class ZeroSet(msgspec.Struct, frozen=True):
    """A zero was taken on purpose, by the operator or in a set-up check; it is kept."""

    source: str
    tare: Tare


class CheckDone(msgspec.Struct, frozen=True):
    """A set-up check was made; its zero, if it took one, comes as :class:`ZeroSet` before it."""

    source: str
    report: Report


class Fault(msgspec.Struct, frozen=True):
    """Something wrong with the feed, in words; ``kind`` is what gets counted."""

    source: str
    kind: str
    say: str


Output = (
    FootContact
    | Pitch
    | PitchChanged
    | PitchClosed
    | NotCounted
    | UnpairedSpeed
    | Gap
    | StreamStarted
    | ZeroLearnt
    | ZeroSet
    | CheckDone
    | Fault
)


def record_json(record: PitchRecord | NotCountedRecord) -> bytes:
    """Return the record as one line of JSON; equal records give equal bytes."""
    return msgspec.json.encode(record)
