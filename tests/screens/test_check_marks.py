"""How the set-up check's screen marks, leads back and explains, on invented results."""

from __future__ import annotations

import msgspec
import pytest
from textual.widgets import Static

from stream.actions import CheckMove, GuideCheck
from stream.checks.plan import TITLES, Step
from stream.snapshot import (
    CheckFound,
    CheckMade,
    CheckNow,
    CheckStepNow,
    DeckState,
    FeedState,
    Level,
    Outcome,
    Sentence,
    StepState,
)
from stream.sources.source import CONNECTION
from tests.checks.bench import SPOT
from tests.screens.fed_mound import FedMound
from tests.screens.invented import Operated, load_layout, snapshot
from tests.screens.test_check_screen import app_of, begin, flipped, lines, words
from tests.screens.test_pitch_screen import line, link_with, settle, shown
from tui.app import MoundfeedApp
from tui.board import BEGINS_WITHIN_S
from tui.check_steps import moves_back, repeated, result_of, words_of
from tui.check_words import found_lines, step_lines
from tui.notices import DEMO_NOTICE
from tui.screens.check import CheckScreen
from tui.screens.check_dialogs import CheckDialog, EndCheckDialog
from tui.screens.dialogs import LeaveDialog
from tui.screens.help import HelpScreen
from tui.units import System, Units

SI, US = Units(System.SI), Units(System.US)
NO_CHECK = Sentence(Level.INFO, "no check mound-a", "No set-up check was made for this session.")
CONNECTED = Sentence(Level.INFO, CONNECTION, "Connected to tcp://127.0.0.1:54189.")


def check(*states: StepState, done: bool = True, **statuses: str) -> CheckNow:
    """Return a check of three steps with results of the given statuses."""
    steps = [CheckStepNow(TITLES[s], state) for s, state in zip(Step, states, strict=False)]
    number = next((k for k, s in enumerate(states, 1) if s is StepState.NOW), len(states))
    found = [CheckFound(name, status, None, "", "Said.") for name, status in statuses.items()]
    return CheckNow(done, number, steps, "Do it.", 0.0, None, found, 20.0, (1.8, -0.3))


DONE, SKIPPED, NOW, AHEAD = StepState.DONE, StepState.SKIPPED, StepState.NOW, StepState.AHEAD


def text_of(runs: list[object]) -> list[str]:
    return ["".join(text for text, _ in run) for run in runs]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("now", "marks", "back", "moves"),
    [
        (
            check(DONE, DONE, DONE, zero="pass", noise="pass", signs="fail", weight="pass"),
            ("✓  1 ", "✖  2 ", "✓  3 "),
            2,
            2,
        ),
        (
            check(DONE, DONE, SKIPPED, zero="fail", mains="warn", signs="fail"),
            ("✖  1 ", "✖  2 ", "\N{EN DASH}  3 "),
            1,
            3,
        ),
        (
            check(DONE, SKIPPED, DONE, zero="pass", mains="warn", signs="not_run"),
            ("!  1 ", "\N{EN DASH}  2 ", "✓  3 "),
            2,
            2,
        ),
        (
            check(DONE, DONE, DONE, zero="pass", signs="not_run", rate="fail"),
            ("✓  1 ", "·  2 ", "✓  3 "),
            3,
            1,
        ),
        (check(DONE, NOW, AHEAD, done=False, zero="pass"), ("✓  1 ", "▶  2 ", "·  3 "), 1, 1),
    ],
)
def test_a_step_has_the_sign_of_its_worst_result_and_b_goes_to_the_one_that_failed(
    now: CheckNow, marks: tuple[str, ...], back: int, moves: int
) -> None:
    shown_lines = text_of(list(step_lines(now, SI, 43)))
    for row, mark in zip(shown_lines[1:4], marks, strict=True):
        assert row.strip().startswith(mark.strip())
        assert len(row) <= 43
    assert (repeated(now), moves_back(now)) == (back, moves)
    if any(f.status == "fail" for f in now.found):
        assert f"then b does step {back} again" in " ".join(" ".join(shown_lines).split())


def test_sign_and_word_of_a_step_agree_with_the_results() -> None:
    now = check(DONE, DONE, SKIPPED, zero="pass", mains="warn", signs="fail")
    rows = text_of(list(step_lines(now, SI, 43)))
    assert rows[1].endswith("WARN")
    assert rows[2].endswith("FAIL")
    assert rows[3].endswith("skipped")
    found = " ".join(text_of(list(found_lines(now.found, SI, 79))))
    assert "✖  FAIL signs" in found
    assert "!  WARN mains" in found
    assert result_of(now, 2) == "fail"


@pytest.mark.parametrize(
    ("units", "says"),
    [
        (SI, "Put the 20 kg on the marked spot ◎, 1.80 m in front of"),
        # Factors: NIST SP 811 (2008), appendix B.8.
        (US, "Put the 44.1 lb on the marked spot ◎, 5.91 ft in front of"),
    ],
)
def test_mass_and_spot_are_told_in_the_units_chosen(units: Units, says: str) -> None:
    now = check(DONE, NOW, AHEAD, done=False)
    said = words_of(now, units)
    assert says in said
    assert "towards third base from its middle" in said


def test_what_passed_is_a_short_list_in_plain_words() -> None:
    found = [
        CheckFound("rate", "pass", 199.98417, "Hz", ""),
        CheckFound("clock", "pass", -20.84, "ppm", ""),
        CheckFound("weight", "pass", 19.993, "kg", ""),
        CheckFound("position", "pass", 3.214, "mm", ""),
    ]
    (row,) = text_of(list(found_lines(found, SI, 120)))
    assert row == (
        " ✓  pass: sample rate 200.0 Hz · clocks agree · known mass reads 20 kg · place off by 3 mm"
    )
    assert "known mass reads 44.1 lb" in text_of(list(found_lines(found, US, 120)))[0]


async def test_going_back_after_the_end_leads_to_the_step_that_failed() -> None:
    mound = FedMound(wire=flipped)
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await begin(pilot)
        mound.bear(6.0)
        mound.bear(7.0, 20.0, SPOT)
        await settle(pilot)
        await pilot.press("s")
        await settle(pilot)
        assert "✖ 2 Known mass FAIL" in lines(app, "do")
        assert "b does step 2 again" in lines(app, "do")
        await pilot.press("b")
        await settle(pilot)
        assert "step 2 of 3" in lines(app, "do")
        moves = [a.move for a in mound.actions if isinstance(a, GuideCheck)]
        assert moves == [CheckMove.SKIP, CheckMove.BACK, CheckMove.BACK]
        assert list(app._notifications) == []  # what the screen shows needs no message over it


async def test_the_last_result_is_shown_before_a_new_check_is_asked_for() -> None:
    link = Operated()
    made = CheckMade(
        False,
        "J. D.",
        65.0,
        "",
        [CheckFound("signs", "fail", None, "", "Turn it.")],
        Outcome.FAILED,
    )
    link.show(msgspec.structs.replace(snapshot(), checked=made))
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("k")
        await settle(pilot)
        assert isinstance(app.screen, CheckScreen)
        assert "did not pass (J. D., 65 s ago); n makes a new one" in lines(app, "do")
        assert "FAIL signs: Turn it." in words(app)
        await pilot.press("n")
        await pilot.pause()
        assert isinstance(app.screen, CheckDialog)


async def test_help_on_the_check_names_its_own_keys() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot)
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)
        text = "\n".join(str(s.content) for s in app.screen.query(Static))
        for key, what in (("Enter", "Take"), ("s", "Skip"), ("b", "Back"), ("n", "New check")):
            assert any(r.split()[:1] == [key] and what in r for r in text.split("\n")), key
        for part in ("THE STEPS", "◎", '"still"', "✓  pass", "!  WARN", "✖  FAIL", "·  not run"):
            assert part in text
        assert "Void" not in text


async def test_quitting_a_check_that_is_not_done_is_asked_about() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = MoundfeedApp(mound, mound.layout, owns_monitor=True, units=SI)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("q")
        await pilot.pause()
        assert isinstance(app.screen, EndCheckDialog)
        assert "e: end it   Esc: go on with the check" in shown(app)
        await pilot.press("escape")
        await settle(pilot)
        assert "step 1 of 3" in lines(app, "do")
        await pilot.press("q", "e")
        await settle(pilot)
        assert isinstance(app.screen, LeaveDialog)  # the question of the other screens
        assert mound.latest is not None
        assert mound.latest.checking is None


async def test_the_message_line_puts_what_is_to_be_done_first() -> None:
    link = Operated()
    link.show(snapshot(sentences=(CONNECTED, NO_CHECK)))
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert line(app, "message").startswith(" no set-up check yet; k makes it · throwing: P03")
        assert "tcp://" not in line(app, "message")
        await pilot.press("d")
        await settle(pilot)
        todo = lines(app, "todo")
        assert "WHAT TO DO Make the set-up check (k) before the first pitch." in todo
        assert "all is well" not in todo


async def test_a_new_message_takes_the_place_of_the_old_one() -> None:
    app = MoundfeedApp(link_with(6))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await settle(pilot)
        await pilot.press("v")
        await pilot.pause()
        await pilot.press("enter")
        await settle(pilot)
        assert [n.message[:15] for n in app._notifications] == ["Pitch 6 is void"]
        await pilot.press("u")
        await settle(pilot)
        assert [n.message for n in app._notifications] == ["Pitch 6 counts again."]


async def test_the_demo_begins_calmly_and_says_how_to_practise() -> None:
    nobody = Sentence(Level.ALARM, CONNECTION, "Nobody answers at tcp://127.0.0.1:1.")
    link = Operated()
    link.show(snapshot(state=FeedState.WAITING, deck=DeckState.UNKNOWN, sentences=(nobody,)))
    app = MoundfeedApp(link, load_layout("two-plates"), notice=DEMO_NOTICE)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert "Nobody answers" not in words(app)
        assert "Waiting for the device to begin" in words(app)
        await pilot.press("k")
        await settle(pilot)
        assert isinstance(app.screen, CheckScreen)
        assert "does not step off" in lines(app, "do")
        assert "moundfeed simulate --to tcp://127.0.0.1:5555 --scene check" in lines(app, "do")
        for _ in range(BEGINS_WITHIN_S):
            app.remember()
        await settle(pilot)
        assert "Nobody answers" in words(app)
