"""A replay in words: where it stands, how fast it goes, what the last step ended at."""

from __future__ import annotations

import math
from datetime import datetime

from analysis.invented import WORD, says_invented
from stream.monitor.playback import Playback
from stream.outputs import (
    Fault,
    FootContact,
    Gap,
    NotCounted,
    Output,
    Pitch,
    PitchChanged,
    PitchClosed,
    StreamStarted,
    UnpairedSpeed,
    ZeroLearnt,
)
from stream.snapshot import Level, Snapshot
from stream.wire import NS
from tui.safe_text import plain
from tui.said import in_units
from tui.units import Units
from tui.widgets.line_text import Runs
from tui.widgets.rows import that_fit
from tui.words import feed_words, not_counted_words

_OTHERS: dict[type, str] = {
    FootContact: "foot contact",
    StreamStarted: "a restart of the device",
    UnpairedSpeed: "a ball speed that belongs to no pitch",
}


def replay_line(playback: Playback, snapshot: Snapshot | None, units: Units, width: int) -> Runs:
    """Return the line at the top of a replay's screen; what is cut at the right matters least."""
    still = playback.ended or (playback.paused and playback.seeking is None)
    invented = f"· {WORD} " if says_invented(playback.recording) else ""
    sign = f" {'■' if still else '▶'} REPLAY, NOT LIVE {invented}"
    parts = [f"{clock(playback.place_ns)} of {clock(playback.length_ns)}", *_state(playback, units)]
    feed = feed_words(snapshot, "", units)
    then = [f"feed then: {feed.word.removeprefix('FEED ').lower()}, {feed.rest}"]
    when = [f"recorded {datetime.fromtimestamp(playback.recorded_ns / NS):%Y-%m-%d %H:%M:%S}"]
    if snapshot is None:
        then = []
    parts += then + when if feed.level is not Level.INFO else when + then
    return ((sign, "note"), (f" {that_fit(parts, width - len(sign) - 1, ' · ')}", "ink"))


def _state(playback: Playback, units: Units) -> list[str]:
    seeking = playback.seeking
    if seeking is not None:
        going = "looking for the next one" if math.isnan(seeking) else f"jumping {seeking:.0%}"
        return [f"{going}, space stops"]
    speed = speed_words(playback.speed, units)
    if playback.ended:
        return ["at the end"]
    if not playback.paused:
        return ["playing", speed]
    reached = playback.reached
    at = [] if reached is None else [f"at {output_words(reached, units)}"]
    return ["paused", *at, speed]


def speed_words(speed: float, units: Units) -> str:
    """Return how fast it plays."""
    if math.isinf(speed):
        return "as fast as it goes"
    return f"{speed:g}".replace(".", units.decimal) + "x speed"


def output_words(output: Output, units: Units) -> str:
    """Return in a few words what happened."""
    match output:
        case Pitch(record=record) | PitchClosed(record=record):
            words = f"pitch {record.number}"
        case PitchChanged(record=record):
            words = f"a change of pitch {record.number}"
        case NotCounted(record=movement):
            words = f"a movement not counted ({not_counted_words(movement)})"
        case Gap(frames=frames):
            words = f"a gap of {frames} frames"
        case ZeroLearnt(say=say) | Fault(say=say):
            words = in_units(plain(say, 80), units)
        case _:
            words = _OTHERS.get(type(output), "an event")
    return words


def clock(place_ns: int) -> str:
    """Return a time in the recording as minutes:seconds, or hours:minutes:seconds."""
    seconds = max(place_ns, 0) // NS
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"
