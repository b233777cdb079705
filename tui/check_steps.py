"""The steps of a set-up check: how each went by its worst result, and which is done again."""

from __future__ import annotations

from stream.checks.evidence import Need
from stream.checks.plan import TITLES, Step
from stream.checks.registry import CHECKS
from stream.snapshot import CheckNow, StepState
from tui.said import in_units, mass_words
from tui.units import Units

_NEEDS = {check.name: check.needs for check in CHECKS}
_STEPS = {title: step for step, title in TITLES.items()}
#: What of a step's results tells, the worst first.
_WORST_FIRST = ("fail", "warn", "pass")


def result_of(now: CheckNow, number: int) -> str:
    """Return the worst result of step ``number`` that is done: fail, warn, pass or not_run."""
    names = _checks_of(now, number)
    found = {f.status for f in now.found if f.check in names}
    if not names:
        return "pass"
    return next((status for status in _WORST_FIRST if status in found), "not_run")


def repeated(now: CheckNow) -> int:
    """Return the number of the step that is done again by going back now.

    After the end the first that failed, else the first that was skipped, else
    the last; before it the one before.
    """
    if not now.done:
        return max(now.number - 1, 1)
    numbers = range(1, len(now.steps) + 1)
    failed = [n for n in numbers if result_of(now, n) == "fail"]
    skipped = [n for n in numbers if now.steps[n - 1].state is StepState.SKIPPED]
    return next(iter([*failed, *skipped]), len(now.steps))


def moves_back(now: CheckNow) -> int:
    """Return how often the check has to go back to come to the step that is repeated."""
    return len(now.steps) + 1 - repeated(now) if now.done else 1


def words_of(now: CheckNow, units: Units) -> str:
    """Return what is to be done in the present step, with mass and spot in the units shown."""
    if now.done or _STEPS.get(now.steps[now.number - 1].title) is not Step.MASS:
        return in_units(now.do, units)
    mass = "a load" if now.mass_kg is None else f"the {mass_words(now.mass_kg, units)}"
    where = "the deck"
    if now.at_m is not None:
        (x, y), metre = now.at_m, units.name("m")
        where = (
            f"the marked spot ◎, {units.number('m', abs(x))} {metre} "
            f"{'in front of' if x >= 0 else 'behind'} the rubber's front edge, "
            f"{units.number('m', abs(y))} {metre} towards {'first' if y >= 0 else 'third'} base "
            "from its middle"
        )
    return f"Put {mass} on {where}. Lift safely, with help if it is heavy; then let go."


def _checks_of(now: CheckNow, number: int) -> set[str]:
    """Return the names of the checks that rest on what is taken in step ``number``."""
    kinds = [_STEPS.get(step.title) for step in now.steps]
    loaded = Step.MASS if Step.MASS in kinds else Step.STAND
    kind = kinds[number - 1]
    return {
        name
        for name, needs in _NEEDS.items()
        if (Need.LOADED in needs and kind is loaded)
        or (Need.QUIET in needs and Need.LOADED not in needs and kind is Step.EMPTY)
    }
