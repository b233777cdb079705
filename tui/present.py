"""From the board to what each widget is given. No state, no measuring: words and order only."""

from __future__ import annotations

from textual.geometry import Size

from analysis.baseline import SPEED, Standing, value_of
from analysis.curves import Component, curves
from analysis.running import is_void
from analysis.sentence import sentence
from stream.events import EVENTS
from stream.monitor.view import PitchView
from stream.outputs import PitchRecord
from stream.snapshot import FeedState, Level, Sentence
from stream.sources.source import CONNECTION
from tui.board import Board
from tui.notices import NO_CHECK
from tui.safe_text import plain
from tui.said import in_units
from tui.table import SHORT_UNITS, unit_of
from tui.units import ESTIMATE, Units
from tui.urgent import urgent_lines
from tui.widgets.axes import Mark
from tui.widgets.big_panel import CROSS, TICK, Answer, Mood
from tui.widgets.line_text import Runs
from tui.widgets.rows import that_fit
from tui.widgets.traces import Plot
from tui.words import (
    EVENTS_BY_IMPORTANCE,
    LEVEL_STYLE,
    deck_words,
    difference_words,
    feed_words,
    not_counted_words,
    pitcher_name,
    recording_words,
    who,
)

MOODS = {Standing.APART: Mood.STRONG, Standing.EDGE: Mood.NOTED}
#: The curves begin no earlier before foot contact, s: who leans towards home while he waits begins
#: to push off seconds before, and what the legs do then would be a few columns wide.
_EARLIEST_S = -1.5
COMPONENT_WORDS = {
    Component.RESULTANT: "Whole force",
    Component.FORWARD: "Forward force, home +",
    Component.VERTICAL: "Vertical force",
    Component.SIDE: "Sideways force, first base +",
}


def feed_line(board: Board, units: Units, width: int, notice: str) -> Runs:
    """Return the state of the feed in words, with ``notice`` and the recording at the right end."""
    words = feed_words(board.snapshot, board.lost_say, units, bool(board.sentences))
    recorded = "" if board.lost_say else recording_words(board.snapshot)
    recording = " · ".join(filter(None, (notice, recorded)))
    style = LEVEL_STYLE[words.level]
    left = f" {words.sign} {words.word} "
    rest = f" {words.rest}"
    space = width - len(left) - len(rest) - len(recording) - 1
    if space < 1:
        return ((left, style), (rest, "ink"))
    trouble = board.snapshot and board.snapshot.recording and board.snapshot.recording.trouble
    return (
        (left, style),
        (rest, "ink"),
        (" " * space, "ink"),
        (recording, "alarm" if trouble else "quiet"),
    )


def message_lines(board: Board, units: Units, size: Size) -> list[Runs]:
    """Return who is throwing and what the deck shows, below it the most urgent sentence.

    Where both have no room in ``size`` there is the sentence alone, in as many
    rows as it needs.
    """
    state = _state_line(board, units, size.width)
    lines = urgent_lines(
        board.sentences, units, size.width, "bold", more=" (and {} more, see the deck)"
    )
    if not lines:
        return [state]
    return [state, *lines] if size.height > len(lines) else lines


def _state_line(board: Board, units: Units, width: int) -> Runs:
    """Return what is known of pitcher and deck; of its parts as many as fit."""
    snapshot = board.snapshot
    if board.chosen is not None and board.pitches:
        return (
            (
                f" Looking back at pitch {board.chosen} of {board.pitches[-1].record.number}. "
                "Home: back to the newest.",
                "bold",
            ),
        )
    if snapshot is None or board.lost_say:
        return ()
    hint = "; press p to say who" if board.link.may_act else ""
    throwing = (
        f"throwing: {pitcher_name(snapshot.pitcher)}"
        if snapshot.pitcher
        else f"nobody named is throwing{hint}"
    )
    parts = [*_to_do(board), throwing, deck_words(snapshot)]
    if snapshot.body_weight_n is not None:
        parts.append(f"body weight {units.quantity('N', snapshot.body_weight_n)}")
    joint = " · "
    text = that_fit(parts, width - 1, joint)
    if text == joint.join(parts):
        text = joint.join([text, *_news(board, units)])
    return ((f" {text}", "ink"),)


def _to_do(board: Board) -> list[str]:
    """Return what somebody should still do, or wait for, although nothing is wrong, short."""
    parts = []
    if any(s.key.startswith(NO_CHECK) for s in board.sentences):
        parts.append("no set-up check yet" + ("; k makes it" if board.link.may_act else ""))
    if board.snapshot is not None and board.snapshot.feed.state is FeedState.WAITING:
        parts += [plain(s.text, 200) for s in _infos(board) if s.key == CONNECTION]
    return parts


def _news(board: Board, units: Units) -> list[str]:
    """Return what is only news; that it is connected the feed line says."""
    return [
        in_units(plain(s.text, 200), units)
        for s in _infos(board)
        if s.key != CONNECTION and not s.key.startswith(NO_CHECK)
    ]


def _infos(board: Board) -> list[Sentence]:
    return [s for s in board.sentences if s.level is Level.INFO]


def verdict(board: Board) -> Answer:
    """Return whether the last movement was counted."""
    other = board.not_counted_since
    if other is not None:
        return Answer(("LAST MOVE",), CROSS, "NOT COUNTED", Mood.STRONG)
    row = board.shown
    if row is None:
        return Answer(("NO PITCH",), "", "")
    head = (f"PITCH {row.record.number}",)
    if is_void(row.record):
        return Answer(head, CROSS, "VOID", Mood.FADED)
    return Answer(head, TICK, "COUNTED")


def number(board: Board, key: str, head: str, head_style: str, units: Units) -> Answer:
    """Return one number of the pitch that is looked at, and how it stands to the usual."""
    row = board.shown
    unit = unit_of(key)
    name = units.name(unit)
    full_head = (f"{head} {name}", f"{head} {SHORT_UNITS.get(unit, name)}")
    if row is None:
        return Answer(full_head, "", "", Mood.FADED, head_style)
    if key in row.record.estimated:
        full_head = (f"{full_head[0]} {ESTIMATE} estimate", f"{full_head[1]} {ESTIMATE}")
    value = value_of(row.record, key)
    comparison = row.comparison(key)
    foot = difference_words(comparison, unit, units)
    if key == SPEED and value is None:
        foot = "none yet; s to enter" if board.link.may_act else "none yet"
    text = units.number(unit, value)
    if board.not_counted_since is not None:
        return Answer(full_head, text, f"pitch {row.record.number}, before", Mood.FADED, head_style)
    if is_void(row.record):
        return Answer(full_head, text, "void, not compared", Mood.FADED, head_style)
    mood = MOODS.get(comparison.standing, Mood.PLAIN) if comparison else Mood.PLAIN
    return Answer(full_head, text, foot, mood, head_style)


def plain_sentence(board: Board, units: Units) -> Runs:
    """Return the sentence under the numbers."""
    other = board.not_counted_since
    if other is not None:
        why = in_units(plain(other.record.why, 200), units) or not_counted_words(other.record)
        return ((f" Not counted: {why}", "bold"),)
    row = board.shown
    if row is None:
        return ((" " + empty_words(board), "bold"),)
    record = row.record
    if is_void(record):
        why = f": {plain(record.note, 120)}" if record.note else ""
        back = " u takes it back." if board.link.may_act else ""
        return ((f" Pitch {record.number} is void{why}.{back}", "bold"),)

    def say(key: str, value: float) -> tuple[str, str]:
        return units.number(unit_of(key), value), units.name(unit_of(key))

    name = pitcher_name(record.pitcher) if record.pitcher else "this pitcher"
    note = f"  Note: {plain(record.note, 120)}" if record.note else ""
    return ((" " + sentence(row.comparisons, say, name), "bold"), (note, "quiet"))


def empty_words(board: Board) -> str:
    """Return what to do while there is no pitch."""
    snapshot = board.snapshot
    if board.lost_say:
        return "Nothing is known of the mound now."
    if snapshot is None and not board.sentences:
        return "Connecting to the monitor."
    if snapshot is None or snapshot.feed.frames == 0:
        return "No feed yet: switch the mound's device on and look at its network cable."
    if any(s.level is Level.ALARM for s in board.sentences):
        return "No pitch yet. First put right what is said above."
    if not snapshot.pitcher and board.link.may_act:
        return "Ready. Press p to say who throws; the first pitch shows here by itself."
    return "Ready. The first pitch shows here by itself."


def plot(view: PitchView | None, component: Component) -> Plot | None:
    """Return the curves of one pitch with its events; None where they are not kept."""
    if view is None or view.traces is None or view.traces.time_s.size < 2:
        return None
    record = view.record
    labels = {e.key: e.label.lower() for e in EVENTS}
    marks = []
    for key in EVENTS_BY_IMPORTANCE:
        time_s = record.events_s.get(key)
        if time_s is not None:
            marks.append(Mark(labels[key], time_s))
    shown = curves(record, view.traces, component)
    span = _time_range(record, float(view.traces.time_s[0]), float(view.traces.time_s[-1]))
    marks = [m for m in marks if span[0] <= m.time_s <= span[1]]
    unit = "% body weight" if shown.unit == "% BW" else "N"
    title = (f"{COMPONENT_WORDS[component]}, {unit}", f"pitch {record.number}", who(record))
    return Plot(title, shown, tuple(marks), span)


def _time_range(record: PitchRecord, first: float, last: float) -> tuple[float, float]:
    onset = record.events_s.get("drive_onset")
    end = record.events_s.get("brake_end")
    low = -1.0 if onset is None else max(onset - 0.15, _EARLIEST_S)
    high = 0.5 if end is None else end + 0.2
    low, high = max(first, low), min(last, high)
    return (low, high) if high - low > 0.1 else (first, last)
