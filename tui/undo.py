"""What takes an operator's action back."""

from __future__ import annotations

from analysis.running import is_void
from stream.actions import (
    Action,
    ChoosePitcher,
    EnterSpeed,
    GuideCheck,
    Note,
    Reassign,
    Restore,
    StartCheck,
    TakeZero,
    Void,
)
from stream.outputs import PitchRecord
from tui.safe_text import plain


def inverse(action: Action, record: PitchRecord | None, throwing: str) -> Action | None:
    """Return the action that takes ``action`` back; None where nothing can.

    ``record`` is the pitch it was about and ``throwing`` who was throwing,
    both as they were before.
    """
    source, t_ns = action.source, action.t_ns
    back: Action | None = None  # a zero cannot be untaken; a restored pitch can be voided again
    if isinstance(action, ChoosePitcher):
        back = ChoosePitcher(source=source, t_ns=t_ns, pitcher=throwing)
    elif record is not None:
        match action:
            case Void(number=number) if not is_void(record):
                back = Restore(source=source, t_ns=t_ns, number=number)
            case Reassign(number=number):
                back = Reassign(source=source, t_ns=t_ns, number=number, pitcher=record.pitcher)
            case Note(number=number):
                back = Note(source=source, t_ns=t_ns, number=number, text=record.note)
            case EnterSpeed(number=number):
                speed = record.speed_mps
                back = EnterSpeed(source=source, t_ns=t_ns, number=number, speed_mps=speed)
            case _:
                pass
    return back


def told(action: Action) -> str:
    """Return what an action did, in words; nothing where its screen shows it."""
    match action:
        case ChoosePitcher(pitcher=code):
            text = f"Throwing from now on: {plain(code, 32) or 'nobody named'}."
        case Reassign(number=number, pitcher=code):
            text = f"Pitch {number} was thrown by {plain(code, 32) or 'nobody named'}."
        case Void(number=number):
            text = f"Pitch {number} is void; it is left out of means and comparisons."
        case Restore(number=number):
            text = f"Pitch {number} counts again."
        case Note(number=number, text=note):
            text = f"Note of pitch {number} {'written' if note else 'removed'}."
        case EnterSpeed(number=number, speed_mps=speed):
            text = f"Ball speed of pitch {number} {'removed' if speed is None else 'entered'}."
        case TakeZero():
            text = "The zero is taken from the next quiet second; keep the deck empty."
        case StartCheck() | GuideCheck():
            text = ""  # the check's own screen shows it
    return text
