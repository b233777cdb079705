"""What a screen draws: one immutable picture of the monitor at one moment.

Built by the core (feed and mound) and by the monitor shell (recording); sent
to screens as MessagePack 10 to 20 times a second. What is not known is None.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec


class FeedState(StrEnum):
    """The feed in one word."""

    WAITING = "waiting"  # nothing has come yet
    LIVE = "live"
    STALLED = "stalled"  # it came, and has stopped coming


class DeckState(StrEnum):
    """What is happening on the deck."""

    UNKNOWN = "unknown"
    EMPTY = "empty"
    OCCUPIED = "occupied"
    SET = "set"  # one person quiet in a set position, body weight taken
    DELIVERY = "delivery"
    LANDED = "landed"


class Level(StrEnum):
    """How urgent a sentence is."""

    INFO = "info"
    WARNING = "warning"
    ALARM = "alarm"


class Sentence(msgspec.Struct, frozen=True):
    """Something the operator should read: what happened and what to do."""

    level: Level
    key: str
    text: str


class PlatformLoad(msgspec.Struct, frozen=True):
    """One platform now: force (N) and centre of pressure (m, None when unloaded), mound frame."""

    name: str
    fx: float
    fy: float
    fz: float
    cop_x: float | None
    cop_y: float | None


class FeedNow(msgspec.Struct, frozen=True):
    """The feed's state and counters since the monitor started."""

    state: FeedState
    stream: str | None
    nominal_rate_hz: float | None
    rate_hz: float | None
    channels: int | None
    age_s: float | None
    frames: int
    lost_frames: int
    gaps: int
    repeated_frames: int
    late_frames: int
    restarts: int
    rejected: dict[str, int]
    latency_ms: float | None
    latency_worst_ms: float | None


class ZeroNow(msgspec.Struct, frozen=True):
    """The zero in force: how it came, and how far it is from the one taken on purpose."""

    source: str  # "none", "taken" or "learnt"
    age_s: float | None
    moved_n: float | None
    moved_bw: float | None  # share of body weight
    load_n: float
    by: str = ""  # who took it on purpose, "" where nobody did
    taken_s: float | None = None  # how long ago that was, host clock


class RecordingNow(msgspec.Struct, frozen=True):
    """The recording's state; ``unsynced_s`` is how much would be lost now."""

    on: bool
    path: str | None
    bytes: int
    unsynced_s: float
    trouble: str | None


class Strip(msgspec.Struct, frozen=True):
    """The last seconds of load for a running plot: vertical force of each side of the deck, N.

    ``step_s`` apart, the last value newest; NaN where frames are missing.
    """

    step_s: float
    drive: list[float]
    lead: list[float]


class CheckFound(msgspec.Struct, frozen=True):
    """One check's result: ``status`` is pass, warn, fail or not_run; ``say`` what to do."""

    check: str
    status: str
    value: float | None
    unit: str
    say: str


class Outcome(StrEnum):
    """How a set-up check ended, in words."""

    PASSED = "passed"
    WITHOUT_MASS = "passed without a known mass"
    UNFINISHED = "not finished: no zero was taken"
    FAILED = "did not pass"


class CheckMade(msgspec.Struct, frozen=True):
    """The last set-up check that was made: ``say`` in one line, and every result.

    ``ok`` where nothing failed, which is not yet a check that passed: see ``outcome``.
    """

    ok: bool
    by: str
    age_s: float | None
    say: str
    found: list[CheckFound]
    outcome: Outcome


class StepState(StrEnum):
    """Where a step of a running set-up check is."""

    AHEAD = "ahead"
    NOW = "now"
    DONE = "done"
    SKIPPED = "skipped"


class CheckStepNow(msgspec.Struct, frozen=True):
    """One step of a running set-up check."""

    title: str
    state: StepState


class CheckNow(msgspec.Struct, frozen=True):
    """A set-up check that runs, or is done and can still be corrected.

    ``do`` is what the operator is to do, ``progress`` how far the present
    load has stood still (0 to 1), ``hindrance`` what keeps it from being
    taken; ``found`` what is known so far; ``at_m`` the marked spot (x, y);
    ``outcome`` how it ended, None before.
    """

    done: bool
    number: int
    steps: list[CheckStepNow]
    do: str
    progress: float
    hindrance: str | None
    found: list[CheckFound]
    mass_kg: float | None
    at_m: tuple[float, float] | None
    body_weight_n: float | None = None
    outcome: Outcome | None = None


class Snapshot(msgspec.Struct, frozen=True):
    """One mound at one moment."""

    source: str
    layout: str
    feed: FeedNow
    deck: DeckState
    platforms: list[PlatformLoad]
    strip: Strip
    body_weight_n: float | None
    zero: ZeroNow
    pitcher: str
    pitches: int
    sentences: list[Sentence]
    recording: RecordingNow | None = None
    checking: CheckNow | None = None
    checked: CheckMade | None = None


def encode_snapshot(snapshot: Snapshot) -> bytes:
    """Return ``snapshot`` as MessagePack."""
    return msgspec.msgpack.encode(snapshot)


def decode_snapshot(payload: bytes) -> Snapshot:
    """Return the snapshot in ``payload``; raise msgspec.DecodeError."""
    try:
        return msgspec.msgpack.decode(payload, type=Snapshot)
    except (UnicodeDecodeError, RecursionError) as error:
        raise msgspec.DecodeError(str(error)) from None
