"""The screen's words for states: each with a symbol, so that no colour is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import wrap
from types import MappingProxyType

from analysis import words
from analysis.baseline import Comparison, Standing
from stream.outputs import NotCountedRecord, PitchRecord
from stream.snapshot import DeckState, FeedNow, FeedState, Level, Snapshot
from tui.safe_text import plain
from tui.units import Units

DECK: Mapping[DeckState, str] = MappingProxyType(
    {
        DeckState.UNKNOWN: "deck not known yet",
        DeckState.EMPTY: "deck empty",
        DeckState.OCCUPIED: "somebody on the deck",
        DeckState.SET: "set position",
        DeckState.DELIVERY: "delivery",
        DeckState.LANDED: "landed",
    }
)
NOT_COUNTED = words.NOT_COUNTED
SIGNS: Mapping[Level, str] = MappingProxyType(
    {Level.INFO: "i", Level.WARNING: "!", Level.ALARM: "✖"}
)
LEVEL_STYLE: Mapping[Level, str] = MappingProxyType(
    {Level.INFO: "good", Level.WARNING: "note", Level.ALARM: "alarm"}
)
STANDING = words.STANDING


_MOST_ROWS = 4


@dataclass(frozen=True, slots=True)
class FeedWords:
    """The feed line: a symbol, a word, the rest, and how urgent it is."""

    sign: str
    word: str
    rest: str
    level: Level


#: Order in which events get a name where there is no room for all.
EVENTS_BY_IMPORTANCE = (
    "foot_contact",
    "drive_peak",
    "landing_peak",
    "drive_toe_off",
    "drive_onset",
    "brake_end",
    "foot_plant",
    "first_move",
)


def feed_words(
    snapshot: Snapshot | None, lost_say: str, units: Units, heard: bool = False
) -> FeedWords:
    """Return the state of the feed in words.

    ``lost_say`` is not empty when the monitor is gone; ``heard``: it has said something.
    """
    if lost_say:
        return FeedWords("✖", "MONITOR GONE", "what is shown is of before", Level.ALARM)
    if snapshot is None and heard:
        return FeedWords("○", "NO FEED YET", "nothing has come from a mound", Level.WARNING)
    if snapshot is None:
        return FeedWords("○", "CONNECTING", "waiting for the monitor's first word", Level.WARNING)
    feed = snapshot.feed
    name = plain(snapshot.source, 24)
    match feed.state:
        case FeedState.WAITING:
            return FeedWords("○", "NO FEED YET", f"nothing has come from {name}", Level.WARNING)
        case FeedState.STALLED:
            age = "" if feed.age_s is None else f" for {units.number('s', feed.age_s, 1)} s"
            return FeedWords("■", "FEED STOPPED", f"nothing from {name}{age}", Level.ALARM)
        case FeedState.LIVE:
            rate = f"{units.number('Hz', feed.rate_hz)} Hz" if feed.rate_hz else "measuring rate"
            level = Level.WARNING if feed.lost_frames else Level.INFO
            return FeedWords("●", "FEED LIVE", f"{rate} · {_losses(feed)}", level)


def _losses(feed: FeedNow) -> str:
    if not feed.lost_frames:
        return "nothing lost"
    holes = "1 gap" if feed.gaps == 1 else f"{feed.gaps} gaps"
    return f"{feed.lost_frames} frames lost in {holes}"


def deck_words(snapshot: Snapshot) -> str:
    """Return what is happening on the deck."""
    if snapshot.feed.state is FeedState.STALLED:
        return "deck not seen now"
    return DECK[snapshot.deck]


def recording_words(snapshot: Snapshot | None) -> str:
    """Return whether the session is being recorded."""
    recording = snapshot.recording if snapshot else None
    if recording is None or not recording.on:
        return "not recording"
    if recording.trouble:
        return "✖ RECORDING TROUBLE"
    return f"recording {recording.bytes / 1e6:.1f} MB"


def not_counted_words(record: NotCountedRecord) -> str:
    """Return why a movement was not counted, short."""
    return NOT_COUNTED[record.not_counted]


def rows_of(text: str, width: int) -> list[str]:
    """Return what is to be read at once, wrapped to ``width``; the fourth row has the rest."""
    parts = wrap(text, max(20, width))
    rest = parts[_MOST_ROWS - 1 :]
    return [*parts[: _MOST_ROWS - 1], " ".join(rest)] if rest else parts


def who(record: PitchRecord) -> str:
    """Return the pitcher of a pitch: code and throwing hand."""
    hand = {"R": "right-handed", "L": "left-handed"}.get(record.throws or "", "")
    return " ".join(filter(None, (pitcher_name(record.pitcher), hand)))


def pitcher_name(code: str) -> str:
    """Return a pitcher's code as a word in a sentence."""
    return plain(code, 24) or "nobody named"


def difference_words(comparison: Comparison | None, unit: str, units: Units) -> str:
    """Return how one number stands to the pitcher's usual one, in a few words."""
    if comparison is None or comparison.standing is Standing.NOT_MEASURED:
        return "not measured"
    if comparison.baseline is None or comparison.standing is Standing.TOO_FEW:
        return "too few to compare"
    usual = units.number(unit, comparison.baseline.centre)
    if comparison.standing is Standing.USUAL:
        return f"= as usual ({usual})"
    difference = comparison.difference or 0.0
    arrow, side = ("▲", "above") if difference > 0 else ("▼", "below")
    return f"{arrow} {units.number(unit, abs(difference))} {side} usual {usual}"
