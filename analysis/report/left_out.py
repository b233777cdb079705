"""What was left out and why: voided, not counted, speeds without a pitch, flags, what was lost."""

from __future__ import annotations

from collections.abc import Sequence

from analysis import page
from analysis.counted import counted
from analysis.report.gather import Part
from analysis.report.numbers import clock, written
from analysis.report.tables import named
from analysis.running import is_void
from analysis.sessions.runs import LoneSpeed
from analysis.sessions.series import quantity
from analysis.words import NOT_COUNTED, flag_words
from stream.book import PAIR_WITHIN_NS
from stream.outputs import NotCountedRecord
from stream.wire import NS

#: More single gaps than this would tell nothing more.
MOST_GAPS = 20
_SPEED = quantity("speed_mps")


def left_out(part: Part) -> list[str]:
    """Return the section: each thing left out with its reason, or that there is none."""
    parts = [
        table_or(
            "Pitches left out by the operator",
            ("pitch", "pitcher", "reason"),
            [
                (str(r.number), named(r.pitcher), r.note or "no reason given")
                for r in part.pitches
                if is_void(r)
            ],
            "No pitch was left out by the operator.",
        ),
        table_or(
            "Movements that were not counted",
            ("time, UTC", "device frame", "what", "why"),
            [_movement(part, *item) for item in _movements(part)],
            "No movement was seen that was not counted."
            + " What fell into the gaps below cannot have been seen." * bool(part.measured.gaps),
        ),
        _lone_speeds(part),
        _flags(part),
        page.paragraph(_gaps(part)),
    ]
    return parts + [page.bullets(part.measured.sentences)] * bool(part.measured.sentences)


def _movements(part: Part) -> list[tuple[int | None, NotCountedRecord]]:
    return list(zip(part.uncounted_ns, part.session.not_counted, strict=True))


def _movement(part: Part, at_ns: int | None, movement: NotCountedRecord) -> tuple[str, ...]:
    why = movement.why
    ball = next((s for s in part.measured.lone_speeds if _soon_after(s, at_ns)), None)
    if ball is not None and at_ns is not None:
        after = (ball.at_ns - at_ns) / NS
        why += (
            f". But a ball of {written(_SPEED, ball.speed_mps)} m/s was measured {after:.1f} s "
            "later: the reason is doubtful, this may have been a pitch"
        )
    return (clock(at_ns), f"{movement.frame:.0f}", NOT_COUNTED[movement.not_counted], why)


def _lone_speeds(part: Part) -> str:
    """Tell the ball speeds without a pitch; the session's lines do not hold them."""
    if not part.session.recordings:
        return page.paragraph(
            "Ball speeds that belong to no pitch are not known: they stand in recordings only, and "
            "there is none."
        )
    rows = [
        (clock(s.at_ns), written(_SPEED, s.speed_mps), _then(part, s))
        for s in part.measured.lone_speeds
    ]
    return table_or(
        "Ball speeds that belong to no pitch",
        ("time, UTC", "ball speed, m/s", "what was on the mound then"),
        rows,
        "Every ball speed has its pitch.",
        words=(2,),
    )


def _then(part: Part, speed: LoneSpeed) -> str:
    """Say what came in the 3 s before a speed that found no pitch."""
    movement = next(((at, m) for at, m in _movements(part) if _soon_after(speed, at)), None)
    if movement is not None:
        at_ns, record = movement
        return (
            f"the movement at {clock(at_ns)}, not counted ({NOT_COUNTED[record.not_counted]}): "
            "doubtful, for a ball was measured"
        )
    number = next((n for n, at in part.at_ns.items() if _soon_after(speed, at)), None)
    if number is not None:
        return f"pitch {number}, which has another speed"
    return "no movement like a delivery"


def _soon_after(speed: LoneSpeed, at_ns: int | None) -> bool:
    return at_ns is not None and 0 <= speed.at_ns - at_ns <= PAIR_WITHIN_NS


def _flags(part: Part) -> str:
    found: dict[str, list[str]] = {}
    for record in part.pitches:
        for flag in record.flags:
            if flag != "void":
                found.setdefault(flag, []).append(str(record.number))
    rows = [(flag_words(flag), ", ".join(numbers)) for flag, numbers in sorted(found.items())]
    return table_or("Flags", ("what", "pitches"), rows, "No pitch carries a flag.")


def _gaps(part: Part) -> str:
    gaps = part.measured.gaps
    if not gaps:
        return "No frame of the feed was lost."
    lost = sum(gap.frames for gap in gaps)
    shown = ", ".join(f"{g.frames} from frame {g.first_frame}" for g in gaps[:MOST_GAPS])
    rest = f", and {len(gaps) - MOST_GAPS} more" if len(gaps) > MOST_GAPS else ""
    holes = counted(len(gaps), "gap")
    return f"{lost} frames of the feed never came, in {holes}: {shown}{rest}."


def table_or(
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    none: str,
    words: Sequence[int] | None = None,
) -> str:
    """Return a table of words (or of ``words`` in those columns); ``none`` where it is empty."""
    if not rows:
        return page.paragraph(none)
    return page.table(caption, head, rows, range(1, len(head)) if words is None else words)
