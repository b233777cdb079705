"""Flags of a record and reasons of missing values in words."""

from __future__ import annotations

from analysis.review.reasons import why_missing
from analysis.words import NOT_MEASURED_AGAIN, flag_words
from stream.book import VOID
from stream.events import EVENTS
from stream.metrics.registry import Metric
from stream.outputs import PitchRecord
from tui.safe_text import plain

#: Short, for beside a value; the whole sentences are in :mod:`analysis.words`.
_SHORT = {
    "handedness_unknown": "hand not on the roster",
    "height_unknown": "height not on the roster",
    "feed_gap": "frames are missing",
    "too_short": "rise too short",
    "place_unknown": "foot's place not known",
    NOT_MEASURED_AGAIN: "no recording left",
}
_EVENTS = {f"no_{e.key}": f"no {e.label.lower()} found" for e in EVENTS}
NO_REASON = "no reason on record"


def short_words(flag: str) -> str:
    """Return what a flag says, short."""
    return _SHORT.get(flag) or _EVENTS.get(flag) or plain(flag.replace("_", " "), 60)


def flags_words(record: PitchRecord) -> list[str]:
    """Return what all flags of a pitch say, void first."""
    flags = sorted(record.flags, key=lambda f: (f != VOID, f))
    return [plain(flag_words(flag), 300) for flag in flags]


def missing_words(record: PitchRecord, metric: Metric) -> str:
    """Return why a metric of a pitch has no value."""
    why = [short_words(flag) for flag in why_missing(record, metric)]
    return ", ".join(why) if why else NO_REASON


def estimate_words(metric: Metric) -> str:
    """Return what an estimate of this metric rests on, on a deck that does not measure it fully."""
    if metric.placed:
        return "estimate: rests on where the foot stands, known to part of a tile or by lever rule"
    return "estimate: rests on how the load is shared while both feet are down (lever rule)"
