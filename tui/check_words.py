"""A set-up check as lines of text: its steps, what is to be done now, what was found."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from stream.snapshot import (
    CheckFound,
    CheckMade,
    CheckNow,
    Outcome,
    Sentence,
    StepState,
)
from stream.watchman import lasting
from tui.check_steps import repeated, result_of, words_of
from tui.safe_text import plain
from tui.said import in_units, mass_words
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
    StepState.SKIPPED: ("\N{EN DASH}", "quiet"),
}
#: Order, sign, word and colour of a result.
_RESULT = {
    "fail": (0, "✖", "FAIL", "alarm"),
    "warn": (1, "!", "WARN", "note"),
    "pass": (2, "✓", "pass", "good"),
    "not_run": (3, "·", "not run", "quiet"),
}
_OUTCOME = {
    Outcome.PASSED: ("✓", "good"),
    Outcome.WITHOUT_MASS: ("✓", "good"),
    Outcome.UNFINISHED: ("!", "note"),
    Outcome.FAILED: ("✖", "alarm"),
}
#: What a passed check is called, and the unit and digits in which its figure tells something.
_PASSED: Mapping[str, tuple[str, str | None, int]] = MappingProxyType(
    {
        "rate": ("sample rate", "Hz", 1),
        "continuity": ("nothing missing", None, 0),
        "clock": ("clocks agree", None, 0),
        "latency": ("messages come evenly", None, 0),
        "zero": ("zero in order", None, 0),
        "noise": ("channels quiet", None, 0),
        "mains": ("no mains hum", None, 0),
        "drift": ("zero stands still", None, 0),
        "stuck": ("all channels alive", None, 0),
        "saturation": ("within the range", None, 0),
        "signs": ("signs right", None, 0),
        "weight": ("known mass reads", "kg", 1),
        "position": ("place off by", "mm", 0),
    }
)
DEMO = (
    "The demo's pitcher does not step off for a check (n would begin one). To practise: moundfeed "
    "simulate --to tcp://127.0.0.1:5555 --scene check --at=1.8,0.3 and, in a second terminal, "
    "moundfeed check --from tcp://127.0.0.1:5555 --layout two-plates"
)
_SAY_MOST = 600
_BAR = 20


def step_lines(now: CheckNow, units: Units, width: int) -> list[Runs]:
    """Return the steps and what the operator is to do in the present one."""
    head = "done" if now.done else f"step {now.number} of {len(now.steps)}"
    lines: list[Runs] = [[("SET-UP CHECK", "bold"), (f"  {head}", "quiet")]]
    for number, step in enumerate(now.steps, 1):
        word = ""
        if step.state is StepState.DONE:
            _, sign, word, style = _RESULT[result_of(now, number)]
            word = "" if word == "pass" else word
        else:
            sign, style = _STEP[step.state]
            word = "skipped" if step.state is StepState.SKIPPED else ""
        ink = "bold" if step.state is StepState.NOW else "ink"
        lines.append([(f" {sign} ", style), (_step_text(number, step.title, word, width), ink)])
    lines += _wrapped(_done_words(now) if now.done else words_of(now, units), width, "bold")
    if now.body_weight_n is not None:
        lines += _wrapped(f"Body weight {units.quantity('N', now.body_weight_n)}.", width, "ink")
    if not now.done:
        lines.append(_bar(now.progress))
        if now.hindrance:
            lines += _signed("!", "note", in_units(now.hindrance, units), width)
        if now.number == 1:
            lines += _wrapped(CAUTION, width, "quiet")
    return lines


def waiting_lines(sentences: Sequence[Sentence], units: Units, width: int) -> list[Runs]:
    """Return what stands where the steps stand before the mound is heard, and what to do."""
    lines: list[Runs] = [[("SET-UP CHECK", "bold")]]
    lines += _wrapped("Waiting for the mound's feed; the check begins by itself.", width, "bold")
    for sentence in sentences:
        lines += _signed(SIGNS[sentence.level], "note", in_units(sentence.text, units), width)
    return [*lines, *_wrapped("Esc leaves.", width, "quiet")]


def idle_lines(made: CheckMade | None, width: int, demo: bool = False) -> list[Runs]:
    """Return what stands where the steps stand while no check runs; ``demo``: how to practise."""
    lines: list[Runs] = [[("SET-UP CHECK", "bold")]]
    if demo and made is None:
        return [*lines, *_wrapped(DEMO, width, "bold")]
    if made is None:
        lines += _wrapped(_NOT_MADE, width, "bold")
    else:
        lines += _verdict(made, "n makes a new one", width)
    return [*lines, [], *_wrapped(CAUTION, width, "quiet")]


def found_lines(found: Sequence[CheckFound], units: Units, width: int) -> list[Runs]:
    """Return the results, what did not pass first and with its sentence."""
    ordered = sorted(found, key=lambda f: _RESULT.get(f.status, _RESULT["not_run"])[0])
    lines: list[Runs] = []
    for result in ordered:
        if result.status in ("fail", "warn"):
            _, sign, word, style = _RESULT[result.status]
            text = in_units(f"{plain(result.check, 20)}: {plain(result.say, _SAY_MOST)}", units)
            lines += _signed(sign, style, f"{word} {text}", width)
    turned = any(f.check == "signs" and f.status == "fail" for f in found)
    good = [_short(f, units, turned) for f in ordered if f.status == "pass"]
    if good:
        lines += _packed("✓", "good", [f"pass: {good[0]}", *good[1:]], width)
    for why, names in _reasons(ordered).items():
        lines += _signed("·", "quiet", f"not run: {', '.join(names)}: {why}", width)
    return lines


def _reasons(found: Sequence[CheckFound]) -> dict[str, list[str]]:
    """Return the checks that were not run by the reason why."""
    reasons: dict[str, list[str]] = {}
    for f in found:
        if f.status not in ("pass", "warn", "fail"):
            said = plain(f.say, _SAY_MOST)
            reasons.setdefault(said.partition(": ")[2] or said, []).append(plain(f.check, 20))
    return reasons


def made_lines(made: CheckMade | None, may_act: bool, units: Units, width: int) -> list[Runs]:
    """Return the last set-up check made, under a heading."""
    lines: list[Runs] = [[("SET-UP CHECK", "bold")]]
    if made is None:
        text = "not made yet" + ("; k makes it, before the first pitch" if may_act else "")
        return [*lines, *_wrapped(text, width, "ink")]
    then = "k makes it again" if may_act else ""
    return [*lines, *_verdict(made, then, width), *found_lines(made.found, units, width)]


def ago(seconds: float) -> str:
    """Return how long ago something was."""
    return f"{lasting(seconds)} ago"


def _verdict(made: CheckMade, then: str, width: int) -> list[Runs]:
    known = (plain(made.by, 40), "" if made.age_s is None else ago(made.age_s))
    when = ", ".join(filter(None, known))
    sign, style = _OUTCOME[made.outcome]
    head = made.outcome.value
    text = f"{head} ({when})" if when else head
    return _signed(sign, style, f"{text}; {then}" if then else text, width)


def _done_words(now: CheckNow) -> str:
    failed = [plain(f.check, 20) for f in now.found if f.status == "fail"]
    if failed:
        return (
            f"Done: {', '.join(failed)} did not pass. Put it right as said below; then b does step "
            f"{repeated(now)} again, n all of it."
        )
    if now.outcome is Outcome.UNFINISHED:
        return (
            "Not finished: no zero was taken, and what rests on it was not run. b does step "
            f"{repeated(now)} again, n all of it."
        )
    without = ", but without a known mass" if now.outcome is Outcome.WITHOUT_MASS else ""
    return f"Done: nothing failed{without}. The result and the zero are in force. Esc leaves."


def _step_text(number: int, title: str, word: str, width: int) -> str:
    """Return a step and how it went; where the line is short the step's name alone."""
    name = plain(title, 60)
    tail = f"  {word}" if word else ""
    if len(f"{name}{tail}") + 6 > width:
        name = name.split(":")[0]
    return f" {number} {name}{tail}"


def _bar(progress: float) -> Runs:
    full = round(progress * _BAR)
    return [
        (f" {'█' * full}{'░' * (_BAR - full)}", "drive"),
        (f" {100 * progress:.0f} % still", "quiet"),
    ]


def _short(found: CheckFound, units: Units, turned: bool) -> str:
    """Return a passed check in a few words, with its figure where that tells something.

    ``turned``: a sign is wrong, and the known mass was weighed as if it were right.
    """
    name, unit, digits = _PASSED.get(found.check, (plain(found.check, 20), None, 0))
    if found.value is None or unit is None or found.unit != unit:
        return name.removesuffix(" reads").removesuffix(" off by")
    if unit == "kg":
        name = "known mass, once the signs are right, reads" if turned else name
        return f"{name} {mass_words(found.value, units)}"
    return in_units(f"{name} {found.value:.{digits}f} {unit}", units)


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
