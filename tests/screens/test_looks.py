"""Pictures of the screens, compared with those that somebody looked at."""

from __future__ import annotations

import msgspec
import pytest
from textual.pilot import Pilot

from stream.files import load_layout
from stream.snapshot import CheckFound, CheckMade, CheckNow, CheckStepNow, Outcome, StepState
from tests.screens.invented import Operated, not_counted, pitch, session, snapshot
from tests.screens.pictures import Compare
from tui.app import MoundfeedApp
from tui.board import FeedHistory
from tui.widgets.rows import RowsWidget


def app_of(look: str = "dark", layout: str = "two-plates", after: bool = False) -> MoundfeedApp:
    link = Operated()
    link.show(snapshot())
    link.feed(session(20))
    link.feed([pitch(21, push=150.0, land=262.0)])
    if after:
        link.feed([not_counted(21)])
    return MoundfeedApp(link, load_layout(layout), look=look)


def test_the_coach_sees_a_pitch_unlike_the_others(snap_compare: Compare) -> None:
    assert snap_compare(app_of(), terminal_size=(80, 24))


def test_the_coach_sees_a_step_off_in_daylight(snap_compare: Compare) -> None:
    assert snap_compare(app_of("light", after=True), terminal_size=(120, 40))


async def operators(pilot: Pilot[None]) -> None:
    """Open the operator's screen with two minutes of a steady feed; wait until all is drawn."""
    app = pilot.app
    assert isinstance(app, MoundfeedApp)
    # As long as what comes is what was there, the seconds that pass change nothing.
    for _ in range(FeedHistory.SECONDS):
        app.remember()
    await pilot.press("d")
    await drawn(pilot, "plan", "home plate ▶")
    await drawn(pilot, "facts", "not run: weight")
    await drawn(pilot, "health", "lost frames a second")


async def drawn(pilot: Pilot[None], name: str, words: str) -> None:
    """Wait until the widget ``name`` shows ``words``."""
    for _ in range(500):
        await pilot.pause()
        found = pilot.app.screen.query(f"#{name}").results(RowsWidget)
        if any(words in widget.text for widget in found):
            return
    pytest.fail(f"{name} never showed {words!r}")


def test_the_operator_sees_the_deck_the_feed_and_the_check(snap_compare: Compare) -> None:
    found = [
        CheckFound("rate", "pass", 199.98, "Hz", ""),
        CheckFound("signs", "fail", None, "", "Front Fz (channel 8) has the wrong sign; turn it."),
        CheckFound("weight", "not_run", None, "", "Not run: it needs the known mass (--mass-kg)."),
    ]
    app = app_of()
    link = app.board.link
    assert isinstance(link, Operated)
    made = CheckMade(False, "J. D.", 300.0, "did not pass", found, Outcome.FAILED)
    link.show(msgspec.structs.replace(snapshot(), checked=made))
    assert snap_compare(app, run_before=operators, terminal_size=(120, 40))


async def guided(pilot: Pilot[None]) -> None:
    """Open the set-up check that runs; wait until all is drawn."""
    await pilot.press("k")
    await drawn(pilot, "do", "step 2 of 3")
    await drawn(pilot, "checkplan", "◎")
    await drawn(pilot, "found", "FAIL noise")


def test_the_operator_is_guided_through_the_set_up_check(snap_compare: Compare) -> None:
    now = CheckNow(
        done=False,
        number=2,
        steps=[
            CheckStepNow("Step off: zero and noise", StepState.DONE),
            CheckStepNow("Known mass: weight, signs, place", StepState.NOW),
            CheckStepNow("Stand on: body weight", StepState.AHEAD),
        ],
        do="Put the 20 kg on the marked spot. Lift safely, with help.",
        progress=0.4,
        hindrance=None,
        found=[
            CheckFound("rate", "pass", 199.98, "Hz", ""),
            CheckFound(
                "noise", "fail", 31.0, "N", "Rear Fx: noise of 31 N. Look for a loose plug."
            ),
        ],
        mass_kg=20.0,
        at_m=(1.8, 0.3),
    )
    app = app_of("light")
    link = app.board.link
    assert isinstance(link, Operated)
    link.show(msgspec.structs.replace(snapshot(), checking=now))
    assert snap_compare(app, run_before=guided, terminal_size=(80, 24))


def test_without_colour(snap_compare: Compare, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = app_of()
    assert snap_compare(app, terminal_size=(120, 40))
