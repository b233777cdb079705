"""A set-up check as lines of text: its steps, what is to be done now, what was found."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from textual.geometry import Size

from stream.snapshot import CheckFound, CheckMade, CheckNow, Level, Sentence, StepState
from tui.safe_text import plain
from tui.units import Units
from tui.widgets.line_text import Runs
from tui.words import SIGNS

CAUTION = (
    "Lift masses safely, with help. A deck that moves underfoot, cables, mains near wet ground: "
    "follow the maker's and local electrical codes."
)
_NOT_MADE = "None was made yet. n begins one; it takes a minute, before the first pitch."
_STEP = {
    StepState.AHEAD: ("·", "quiet"),
    StepState.NOW: ("▶", "note"),
    StepState.DONE: ("✓", "good"),
    StepState.SKIPPED: ("-", "quiet"),
}
#: Order, sign, word and colour of a result.
_RESULT = {
    "fail": (0, "✖", "FAIL", "alarm"),
    "warn": (1, "!", "WARN", "note"),
    "pass": (2, "✓", "pass", "good"),
    "not_run": (3, "·", "not run", "quiet"),
}
_SAY_MOST = 600
_BAR = 20


def step_lines(now: CheckNow, units: Units, width: int) -> list[Runs]:
    """Return the steps and what the operator is to do in the present one."""
    head = "done" if now.done else f"step {now.number} of {len(now.steps)}"
    lines: list[Runs] = [[("SET-UP CHECK", "bold"), (f"  {head}", "quiet")]]
    for number, step in enumerate(now.steps, 1):
        sign, style = _STEP[step.state]
        ink = "bold" if step.state is StepState.NOW else "ink"
        tail = "  skipped" if step.state is StepState.SKIPPED else ""
        lines.append([(f" {sign} ", style), (f" {number} {plain(step.title, 60)}{tail}", ink)])
    lines += _wrapped(_done_words(now) if now.done else now.do, width, "bold")
    if not now.done:
        if now.at_m is not None and "marked spot" in now.do:
            lines += _wrapped(_spot_words(now.at_m, units), width, "ink")
        lines.append(_bar(now.progress))
        if now.hindrance:
            lines += _signed("!", "note", now.hindrance, width)
        if now.number == 1:
            lines += _wrapped(CAUTION, width, "quiet")
    return lines


def idle_lines(made: CheckMade | None, width: int) -> list[Runs]:
    """Return what stands where the steps stand while no check runs."""
    lines: list[Runs] = [[("SET-UP CHECK", "bold")]]
    if made is None:
        lines += _wrapped(_NOT_MADE, width, "bold")
    else:
        lines += _verdict(made, "n makes a new one", width)
    return [*lines, [], *_wrapped(CAUTION, width, "quiet")]


def found_lines(found: Sequence[CheckFound], width: int) -> list[Runs]:
    """Return the results, what did not pass first and with its sentence."""
    ordered = sorted(found, key=lambda f: _RESULT.get(f.status, _RESULT["not_run"])[0])
    lines: list[Runs] = []
    for result in ordered:
        if result.status in ("fail", "warn"):
            _, sign, word, style = _RESULT[result.status]
            name = plain(result.check, 20)
            lines += _signed(sign, style, f"{word} {name}: {plain(result.say, _SAY_MOST)}", width)
    good = [_short(f) for f in ordered if f.status == "pass"]
    if good:
        lines += _packed("✓", "good", good, width)
    rest = [plain(f.check, 20) for f in ordered if f.status not in ("pass", "warn", "fail")]
    if rest:
        lines += _signed("·", "quiet", f"not run: {', '.join(rest)}", width)
    return lines


def made_lines(made: CheckMade | None, may_act: bool, width: int) -> list[Runs]:
    """Return the last set-up check made, under a heading."""
    lines: list[Runs] = [[("SET-UP CHECK", "bold")]]
    if made is None:
        text = "not made yet" + ("; k makes it, before the first pitch" if may_act else "")
        return [*lines, *_wrapped(text, width, "ink")]
    then = "k makes it again" if may_act else ""
    return [*lines, *_verdict(made, then, width), *found_lines(made.found, width)]


def urgent_lines(sentences: Sequence[Sentence], size: Size) -> list[Runs]:
    """Return the most urgent sentence, if any is more than news, in the rows there are."""
    urgent = [s for s in sentences if s.level is not Level.INFO]
    if not urgent:
        return []
    worst = min(urgent, key=lambda s: s.level is not Level.ALARM)
    style = "alarm" if worst.level is Level.ALARM else "note"
    return _signed(SIGNS[worst.level], style, worst.text, size.width)[: max(1, size.height)]


def ago(seconds: float) -> str:
    """Return how long ago something was."""
    if seconds < 90:
        return f"{seconds:.0f} s ago"
    if seconds < 5400:
        return f"{seconds / 60:.0f} min ago"
    return f"{seconds / 3600:.0f} h ago"


def _verdict(made: CheckMade, then: str, width: int) -> list[Runs]:
    known = (plain(made.by, 40), "" if made.age_s is None else ago(made.age_s))
    when = ", ".join(filter(None, known))
    sign, style = ("✓", "good") if made.ok else ("✖", "alarm")
    head = "passed" if made.ok else "did not pass"
    text = f"{head} ({when})" if when else head
    return _signed(sign, style, f"{text}; {then}" if then else text, width)


def _done_words(now: CheckNow) -> str:
    failed = [plain(f.check, 20) for f in now.found if f.status == "fail"]
    if failed:
        return (
            f"Done: {', '.join(failed)} did not pass. Put it right as said below; then b does the "
            "last step again, n all of it."
        )
    return "Done: nothing failed. The result and the zero are in force. Esc leaves."


def _spot_words(at_m: tuple[float, float], units: Units) -> str:
    x, y = (units.quantity("m", value) for value in at_m)
    return f"◎ x {x}, y {y}"


def _bar(progress: float) -> Runs:
    full = round(progress * _BAR)
    return [
        (f" {'█' * full}{'░' * (_BAR - full)}", "drive"),
        (f" {100 * progress:.0f} % still", "quiet"),
    ]


def _short(found: CheckFound) -> str:
    name = plain(found.check, 20)
    if found.value is None:
        return name
    return f"{name} {found.value:.4g} {plain(found.unit, 12)}".rstrip()


def _wrapped(text: str, width: int, style: str) -> list[Runs]:
    parts = textwrap.wrap(plain(text, _SAY_MOST), max(10, width - 2))
    return [[(f" {part}", style)] for part in parts]


def _signed(sign: str, style: str, text: str, width: int) -> list[Runs]:
    parts = textwrap.wrap(plain(text, _SAY_MOST), max(10, width - 5)) or [""]
    return [
        [(f" {sign} " if not k else "   ", style if not k else "ink"), (f" {part}", "ink")]
        for k, part in enumerate(parts)
    ]


def _packed(sign: str, style: str, words: Sequence[str], width: int) -> list[Runs]:
    """Return ``words`` in as few lines as they need, none of them torn."""
    rows, room = [""], max(10, width - 5)
    for word in words:
        joined = f"{rows[-1]} · {word}" if rows[-1] else word
        if len(joined) > room and rows[-1]:
            rows.append(word)
        else:
            rows[-1] = joined
    return [
        [(f" {sign} " if not k else "   ", style if not k else "ink"), (f" {row}", "ink")]
        for k, row in enumerate(rows)
    ]
