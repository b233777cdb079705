"""What the operator does, as messages on the ``operator`` topic.

They are recorded with the feed, so a replay meets the same choices at the
same place. Payload: JSON, ``{"v":1,"source":...,"t_ns":...,"action":...}``
with the fields of one of the classes below; ``t_ns`` is the host clock.
"""

from __future__ import annotations

import msgspec

from stream.wire import MAX_SPEED_MPS, VERSION, Refusal, WireError, check_source

MAX_TEXT = 500
MAX_CODE = 32


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


Action = ChoosePitcher | Reassign | Void | Restore | Note | EnterSpeed | TakeZero

_decoder = msgspec.json.Decoder(Action)


def decode_action(payload: bytes) -> Action:
    """Return the validated action in ``payload``; raise :class:`stream.wire.WireError`."""
    try:
        action: Action = _decoder.decode(payload)
    except msgspec.ValidationError as error:
        raise WireError(Refusal.BAD_FIELD, str(error)) from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise WireError(Refusal.UNREADABLE, str(error)[:200]) from None
    if action.v != VERSION:
        raise WireError(Refusal.WRONG_VERSION, f"version {action.v}")
    check_source(action.source)
    _check_texts(action)
    return action


def encode_action(action: Action) -> bytes:
    """Return ``action`` as a JSON payload."""
    return msgspec.json.encode(action)


def _check_texts(action: Action) -> None:
    match action:
        case ChoosePitcher(pitcher=code) | Reassign(pitcher=code) if len(code) > MAX_CODE:
            raise WireError(Refusal.TOO_LARGE, "pitcher code")
        case Void(reason=text) | Note(text=text) | TakeZero(by=text) if len(text) > MAX_TEXT:
            raise WireError(Refusal.TOO_LARGE, "text")
        case EnterSpeed(speed_mps=speed) if speed is not None and not 0 < speed <= MAX_SPEED_MPS:
            raise WireError(Refusal.OUT_OF_RANGE, f"ball speed {speed} m/s")
        case _:
            pass
