"""Pictures of the live screens and every dialog over them, at a small and a usual size."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import pytest
from textual.pilot import Pilot

from stream.files import load_layout
from stream.outputs import Output
from stream.roster import Pitcher, Roster
from stream.snapshot import (
    CheckFound,
    CheckMade,
    CheckNow,
    CheckStepNow,
    DeckState,
    FeedState,
    Outcome,
    Snapshot,
    StepState,
)
from tests.screens.invented import Operated, pitch, session, snapshot
from tests.screens.pictures import Compare, at_sizes, seen
from tui.app import MoundfeedApp
from tui.board import FeedHistory
from tui.looking import LookingApp
from tui.notices import DEMO_NOTICE

LAYOUT = load_layout("two-plates")
ROSTER = Roster((Pitcher("P01", "R", 1.85), Pitcher("P02", "L", 1.9), Pitcher("P03", "R", 1.8)))
STEPS = ("Step off: zero and noise", "Known mass: weight, signs, place", "Stand on: body weight")
FOUND = [
    CheckFound("rate", "pass", 199.98, "Hz", ""),
    CheckFound("zero", "pass", 12.0, "N", ""),
    CheckFound("weight", "pass", 20.02, "kg", ""),
    CheckFound("position", "pass", 3.1, "mm", ""),
    CheckFound("latency", "warn", 40.0, "ms", "Messages arrive unevenly. Use a cable."),
]


def app_of(
    now: Snapshot, outputs: Sequence[Output] = (), *, notice: str = "", owns: bool = False
) -> MoundfeedApp:
    link = Operated()
    link.show(now)
    link.feed(outputs)
    return MoundfeedApp(link, LAYOUT, ROSTER, notice=notice, owns_monitor=owns)


def quiet() -> MoundfeedApp:
    """Nothing was thrown yet, and nobody is on the deck."""
    return app_of(snapshot(deck=DeckState.EMPTY, pitcher=""), owns=True)


def thrown() -> MoundfeedApp:
    return app_of(snapshot(), [pitch(1)])


async def two_minutes(pilot: Pilot[None]) -> None:
    """As long as what comes is what was there, the seconds that pass change no plot."""
    assert isinstance(pilot.app, MoundfeedApp)
    for _ in range(FeedHistory.SECONDS):
        pilot.app.remember()


@at_sizes
def test_before_the_feed(snap_compare: Compare, size: tuple[int, int]) -> None:
    app = app_of(snapshot(FeedState.WAITING, DeckState.EMPTY, "", rate_hz=None, latency_ms=None))
    before = seen("NO FEED YET", "No pitch yet.")
    assert snap_compare(app, terminal_size=size, run_before=before)


@at_sizes
def test_the_coach_sees_a_usual_pitch(snap_compare: Compare, size: tuple[int, int]) -> None:
    app = app_of(snapshot(), session(12))
    before = seen("PITCH 12", "COUNTED", "push-off")
    assert snap_compare(app, terminal_size=size, run_before=before)


@at_sizes
def test_the_operators_deck(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("ZERO", "home plate ▶", keys=("d",), begin=two_minutes)
    assert snap_compare(thrown(), terminal_size=size, run_before=before)


@at_sizes
def test_who_only_looks_on(snap_compare: Compare, size: tuple[int, int]) -> None:
    link = Operated(may_act=False)
    link.show(snapshot())
    link.feed([pitch(1)])
    app = LookingApp(link, LAYOUT, notice="looking on")
    before = seen("looking on", "PITCH 1")
    assert snap_compare(app, terminal_size=size, run_before=before)


@pytest.mark.parametrize(
    ("keys", "word"),
    [
        (("p",), "Who is throwing from now on?"),
        (("a",), "Who threw pitch 1?"),
        (("v",), "Void pitch 1: why?"),
        (("s",), "Ball speed of pitch 1"),
        (("n",), "Note on pitch 1"),
        (("z",), "Take the zero"),
        (("question_mark",), "Void"),
        (("ctrl+p", *"zero"), "Take the zero"),
    ],
    ids=["pitcher", "assign", "void", "speed", "note", "zero", "help", "palette"],
)
@at_sizes
def test_over_a_pitch(
    snap_compare: Compare, size: tuple[int, int], keys: tuple[str, ...], word: str
) -> None:
    before = seen(word, keys=keys)
    assert snap_compare(thrown(), terminal_size=size, run_before=before)


@at_sizes
def test_leaving(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("Leave the screen", "keep recording", keys=("q",))
    assert snap_compare(quiet(), terminal_size=size, run_before=before)


# The set-up check


def checking(done: bool) -> MoundfeedApp:
    """The check on its last step, or done."""
    last = StepState.DONE if done else StepState.NOW
    now = CheckNow(
        done=done,
        number=3,
        steps=[
            CheckStepNow(title, state)
            for title, state in zip(STEPS, (StepState.DONE, StepState.SKIPPED, last), strict=True)
        ],
        do="" if done else "Stand on the deck with both feet, at ease, and stand still.",
        progress=1.0 if done else 0.25,
        hindrance=None if done else "Stand still.",
        found=FOUND,
        mass_kg=20.0,
        at_m=(1.8, 0.3),
        body_weight_n=880.0 if done else None,
        outcome=Outcome.PASSED if done else None,
    )
    made = CheckMade(True, "J. D.", 3.0, "passed", FOUND, Outcome.PASSED) if done else None
    return app_of(msgspec.structs.replace(snapshot(), checking=now, checked=made))


@at_sizes
def test_what_a_check_is_made_with(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("known mass, lb", "checked by", keys=("k",), begin=two_minutes)
    assert snap_compare(quiet(), terminal_size=size, run_before=before)


@at_sizes
def test_the_check_before_it_begins(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("None was made yet", keys=("k", "escape"), begin=two_minutes)
    assert snap_compare(quiet(), terminal_size=size, run_before=before)


@at_sizes
def test_the_check_in_the_demo(snap_compare: Compare, size: tuple[int, int]) -> None:
    app = app_of(snapshot(), notice=DEMO_NOTICE)
    before = seen("To practise", keys=("k",), begin=two_minutes)
    assert snap_compare(app, terminal_size=size, run_before=before)


@at_sizes
def test_the_last_step_of_the_check(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("step 3 of 3", "Stand still.", "WARN", keys=("k",), begin=two_minutes)
    assert snap_compare(checking(False), terminal_size=size, run_before=before)


@at_sizes
def test_a_check_that_is_done(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("Done: nothing failed", "Body weight", keys=("k",), begin=two_minutes)
    assert snap_compare(checking(True), terminal_size=size, run_before=before)


@at_sizes
def test_leaving_a_check(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("nothing of it is kept", keys=("k", "escape"), begin=two_minutes)
    assert snap_compare(checking(False), terminal_size=size, run_before=before)


@at_sizes
def test_help_on_the_check(snap_compare: Compare, size: tuple[int, int]) -> None:
    before = seen("Take the load as it stands", keys=("k", "question_mark"), begin=two_minutes)
    assert snap_compare(checking(False), terminal_size=size, run_before=before)
