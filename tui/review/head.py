"""The two lines above everything: which session, and what of it is looked at."""

from __future__ import annotations

from analysis.invented import WORD
from analysis.review.selection import NUMBER, PITCHER, Selection, Which
from analysis.running import NotCountedRow, PitchRow
from tui.review.desk import Desk
from tui.review.pitch_table import label_of
from tui.safe_text import plain
from tui.units import Units
from tui.widgets.line_text import Runs
from tui.words import pitcher_name

WHICH = {
    Which.ALL: "all pitches",
    Which.COUNTED: "counted, void ones left out",
    Which.VOID: "void",
    Which.UNLIKE: "edge or unlike the pitcher's others",
    Which.INCOMPLETE: "something not measured or doubtful",
    Which.NOTED: "with a note",
}


def session_line(desk: Desk, units: Units, width: int) -> Runs:
    """Return the session's name, day and size, and how far its curves are."""
    sitting = desk.now
    pitches = len(sitting.pitches)
    void = sum(p.void for p in sitting.pitches)
    others = sum(isinstance(r, NotCountedRow) for r in sitting.rows)
    place = f"{desk.at + 1} of {len(desk.sittings)}: " if len(desk.sittings) > 1 else ""
    invented = f", {WORD}" if sitting.session.invented else ""
    left = f" SESSION {place}{plain(sitting.name, 40)}{invented} "
    voids = f", {void} void" if void else ""
    not_counted = f", {others} not counted" if others else ""
    thrown = "1 pitch" if pitches == 1 else f"{pitches} pitches"
    rest = f" {sitting.day} UTC · {thrown}{voids}{not_counted}"
    right = _curves(desk, units)
    space = width - len(left) - len(rest) - len(right) - 1
    if space < 1:
        rest = f" {sitting.day[:10]} · {thrown}{voids}"
        rest = rest[: max(0, width - len(left) - len(right) - 2)]
        space = max(1, width - len(left) - len(rest) - len(right) - 1)
    busy = sitting.share is not None or desk.writing is not None
    style = "note" if busy else "alarm" if sitting.trouble else "quiet"
    return ((left, "good"), (rest, "ink"), (" " * space, "ink"), (right, style))


def looked_at_line(desk: Desk, left_out: int) -> Runs:
    """Return the selection, the order and what lies over the curves."""
    rows = [r for r in desk.rows if isinstance(r, PitchRow)]
    total = len(desk.now.pitches)
    parts = []
    if desk.selection != Selection():
        who = desk.selection.pitcher
        whose = "everybody" if who is None else pitcher_name(who)
        parts.append(f"{len(rows)} of {total}: {whose}, {WHICH[desk.selection.which]}")
    else:
        parts.append("the only pitch" if total == 1 else f"all {total} pitches")
    if desk.order.key != NUMBER or desk.order.falling:
        way = "falling" if desk.order.falling else "rising"
        name = "pitcher" if desk.order.key == PITCHER else _name(desk.order.key)
        parts.append(f"by {name}, {way}")
    if desk.now.marked:
        parts.append("laid over: " + ", ".join(str(n) for n in desk.now.marked))
    if left_out:
        parts.append(f"{left_out} chosen columns have no room here")
    return ((" " + " · ".join(parts), "ink"),)


def _name(key: str) -> str:
    return "number" if key == NUMBER else label_of(key).lower()


def _curves(desk: Desk, units: Units) -> str:
    sitting = desk.now
    if desk.writing is not None:
        return f" writing {units.number('', 100.0 * desk.writing, 0)} %, Esc stops "
    if sitting.trouble:
        return " ✖ no curves "
    if sitting.share is not None:
        return f" reading {units.number('', 100.0 * sitting.share, 0)} %, Esc stops "
    if sitting.measured:
        return f"! {len(sitting.sentences)} to read: e" if sitting.sentences else "curves read"
    return "no curves yet"
