"""What the operator does, as messages on the ``operator`` topic.

They are recorded with the feed, so a replay meets the same choices at the
same place. Payload: JSON, ``{"v":1,"source":...,"t_ns":...,"action":...}``
with the fields of one of the classes below; ``t_ns`` is the host clock.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from stream.movement import STANDARD_GRAVITY
from stream.wire import (
    DECODE_ERRORS,
    MAX_SPEED_MPS,
    VERSION,
    Payload,
    Refusal,
    WireError,
    check_source,
    refusal_of,
)

MAX_TEXT = 500
MAX_CODE = 32
#: Known masses and how long a load may be looked at, in a set-up check.
MAX_MASS_KG = 1000.0
MAX_CHECK_S = 60.0


class _Action(msgspec.Struct, frozen=True, tag_field="action", kw_only=True):
    source: str
    t_ns: int
    v: int = VERSION


class ChoosePitcher(_Action, frozen=True, tag="pitcher"):
    """From now on ``pitcher`` (a roster code, or "" for nobody named) is throwing."""

    pitcher: str


class Reassign(_Action, frozen=True, tag="reassign"):
    """Pitch ``number`` was thrown by ``pitcher``."""

    number: int
    pitcher: str


class Void(_Action, frozen=True, tag="void"):
    """Pitch ``number`` is left out of tables and statistics, for a stated ``reason``."""

    number: int
    reason: str


class Restore(_Action, frozen=True, tag="restore"):
    """Take back the void of pitch ``number``."""

    number: int


class Note(_Action, frozen=True, tag="note"):
    """A remark on pitch ``number``; it replaces an earlier one."""

    number: int
    text: str


class EnterSpeed(_Action, frozen=True, tag="speed"):
    """Ball speed of pitch ``number`` in m/s, typed in; None takes it back."""

    number: int
    speed_mps: float | None


class TakeZero(_Action, frozen=True, tag="zero"):
    """Take the zero anew from the next quiet second; ``by`` says who asked."""

    by: str


class StartCheck(_Action, frozen=True, tag="check"):
    """Begin a set-up check; one that runs is dropped.

    ``mass_kg`` stands at ``at_m`` (x, y in the mound frame); None without a
    known mass. ``stand``: a person is weighed too. Each load is looked at for
    ``seconds``. ``gravity`` is the local one, m/s2. ``by`` says who checks.
    """

    by: str
    mass_kg: float | None = None
    at_m: tuple[float, float] | None = None
    stand: bool = True
    seconds: float = 5.0
    gravity: float = STANDARD_GRAVITY


class CheckMove(StrEnum):
    """What the operator wants of the set-up check that runs."""

    TAKE = "take"  # take the steady load as it is
    SKIP = "skip"  # leave the present step undone
    BACK = "back"  # do the step before again
    STOP = "stop"  # end the check; one that is not done leaves nothing behind


class GuideCheck(_Action, frozen=True, tag="check_step"):
    """Take, skip or repeat a step of the set-up check, or end it."""

    move: CheckMove


Action = (
    ChoosePitcher
    | Reassign
    | Void
    | Restore
    | Note
    | EnterSpeed
    | TakeZero
    | StartCheck
    | GuideCheck
)

_decoder = msgspec.json.Decoder(Action)


def decode_action(payload: Payload) -> Action:
    """Return the validated action in ``payload``; raise :class:`stream.wire.WireError`."""
    try:
        action: Action = _decoder.decode(payload)
    except DECODE_ERRORS as error:
        raise refusal_of(error) from None
    if action.v != VERSION:
        raise WireError(Refusal.WRONG_VERSION, f"version {action.v}")
    check_source(action.source)
    _check_values(action)
    return action


def encode_action(action: Action) -> bytes:
    """Return ``action`` as a JSON payload."""
    return msgspec.json.encode(action)


def _check_values(action: Action) -> None:
    match action:
        case ChoosePitcher(pitcher=code) | Reassign(pitcher=code) if len(code) > MAX_CODE:
            raise WireError(Refusal.TOO_LARGE, "pitcher code")
        case Void(reason=text) | Note(text=text) | TakeZero(by=text) | StartCheck(by=text) if (
            len(text) > MAX_TEXT
        ):
            raise WireError(Refusal.TOO_LARGE, "text")
        case StartCheck(mass_kg=mass) if mass is not None and not 0 < mass <= MAX_MASS_KG:
            raise WireError(Refusal.OUT_OF_RANGE, f"known mass {mass} kg")
        case StartCheck(seconds=seconds) if not 1.0 <= seconds <= MAX_CHECK_S:
            raise WireError(Refusal.OUT_OF_RANGE, f"{seconds} s for a step of the check")
        case StartCheck(gravity=gravity) if not 9.7 < gravity < 9.9:
            raise WireError(Refusal.OUT_OF_RANGE, f"gravity of {gravity} m/s2")
        case EnterSpeed(speed_mps=speed) if speed is not None and not 0 < speed <= MAX_SPEED_MPS:
            raise WireError(Refusal.OUT_OF_RANGE, f"ball speed {speed} m/s")
        case _:
            pass
