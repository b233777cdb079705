"""Words that reports, screens and documents share: flags, movements not counted, standings."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from analysis.baseline import Standing
from stream.outputs import NotCountedReason

#: A pitch was given to another pitcher and there is no recording to measure it from.
NOT_MEASURED_AGAIN = "not_measured_again"

#: What a flag of a pitch says. Its key is fixed with the records' format.
FLAGS: Mapping[str, str] = MappingProxyType(
    {
        "feed_gap": "Frames that the value rests on never came, or lie so near a hole that the "
        "filter carries it there.",
        "no_<event>": "The event of that name, which the value needs, was not found in the "
        "movement.",
        "handedness_unknown": "The roster does not say whether the pitcher throws right or left.",
        "height_unknown": "The roster does not give the pitcher's height.",
        "place_unknown": "Where the foot stood is not known: it carried too little, or the layout "
        "cannot tell.",
        "too_short": "The rise was shorter than the time over which its slope is taken.",
        "weight_mismatch": "The weight in this set position differs from the weigh-in: the wrong "
        "pitcher may be chosen, or the zero may be off. The values are kept.",
        "speed_typed": "The ball speed was typed in, not received.",
        "void": "The operator left the pitch out; the note says why. It stays in the files.",
        NOT_MEASURED_AGAIN: "The pitch was given to another pitcher afterwards and the recording "
        "to measure it from is gone. It shows in reports, never in a record.",
    }
)

NOT_COUNTED: Mapping[NotCountedReason, str] = MappingProxyType(
    {
        NotCountedReason.STEP_OFF: "step-off",
        NotCountedReason.NO_LANDING: "no landing",
        NotCountedReason.THROW_OVER: "throw to a base",
        NotCountedReason.SECOND_PERSON: "second person",
        NotCountedReason.FEED_GAP: "hole in the feed",
        NotCountedReason.OTHER: "not a delivery",
    }
)
#: Symbol and word of how a value stands to the pitcher's others.
STANDING: Mapping[Standing, tuple[str, str]] = MappingProxyType(
    {
        Standing.USUAL: ("=", "usual"),
        Standing.EDGE: ("~", "edge"),
        Standing.APART: ("≠", "unlike"),
        Standing.TOO_FEW: ("·", "few"),
        Standing.NOT_MEASURED: ("?", "none"),
    }
)


def flag_words(flag: str) -> str:
    """Return what ``flag`` says."""
    if flag in FLAGS:
        return FLAGS[flag]
    event = flag.removeprefix("no_").replace("_", " ")
    return f"The event {event}, which a value needs, was not found in the movement."
