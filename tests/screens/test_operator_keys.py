"""What the operator does by keys reaches the monitor, and can be taken back."""

from __future__ import annotations

from textual.widgets import Input, OptionList, Static

from stream.actions import ChoosePitcher, EnterSpeed, Note, Reassign, Restore, TakeZero, Void
from stream.roster import roster_from_csv
from tests.screens.invented import Operated
from tests.screens.test_pitch_screen import answer, line, link_with, settle, shown
from tui.app import MoundfeedApp

ROSTER = roster_from_csv(
    "pitcher,throws,height_m,weigh_in_kg,name\nP01,R,,,Invented One\nP02,L,,,Invented Two\n"
)


async def test_void_with_a_reason_and_taking_it_back() -> None:
    link = link_with(6)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("v")
        await pilot.pause()
        await pilot.press("down", "enter")
        await settle(pilot)
        void = link.actions[-1]
        assert isinstance(void, Void)
        assert (void.number, void.reason) == (6, "warm-up, not a full effort")
        assert answer(app, "verdict").foot == "VOID"
        assert "✖ void" in shown(app)
        assert "u takes it back" in line(app, "sentence")
        await pilot.press("u")
        await settle(pilot)
        assert isinstance(link.actions[-1], Restore)
        assert answer(app, "verdict").foot == "COUNTED"
        await pilot.press("u")
        await settle(pilot)
        assert len(link.actions) == 2  # nothing more to take back


async def test_a_reason_of_ones_own() -> None:
    link = link_with(2)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("v", *"slipped", "enter")
        await settle(pilot)
        void = link.actions[-1]
        assert isinstance(void, Void)
        assert void.reason == "slipped"


async def test_choosing_the_pitcher_from_the_roster_and_back() -> None:
    link = link_with(2)
    app = MoundfeedApp(link, roster=ROSTER)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("p", *"two")
        await pilot.pause()
        options = app.screen.query_one(OptionList)
        assert "Invented Two" in str(options.get_option_at_index(0).prompt)
        await pilot.press("enter")
        await settle(pilot)
        chosen = link.actions[-1]
        assert isinstance(chosen, ChoosePitcher)
        assert chosen.pitcher == "P02"
        assert "throwing: P02" in line(app, "message")
        await pilot.press("u")
        await settle(pilot)
        assert "throwing: P03" in line(app, "message")


async def test_a_code_that_is_not_on_the_roster() -> None:
    link = link_with(1)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("p")
        await pilot.pause()
        assert "no roster" in app.screen.query_one(Input).placeholder
        await pilot.press(*"X9", "enter")
        await settle(pilot)
        chosen = link.actions[-1]
        assert isinstance(chosen, ChoosePitcher)
        assert chosen.pitcher == "X9"


async def test_ball_speed_is_read_in_the_shown_unit() -> None:
    link = link_with(3)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("s")
        await pilot.pause()
        box = app.screen.query_one(Input)
        box.value = "400"
        await pilot.press("enter")
        assert "between 0 and" in str(app.screen.query_one("#wrong", Static).content)
        box.value = "fast"
        await pilot.press("enter")
        assert "not a number" in str(app.screen.query_one("#wrong", Static).content)
        box.value = "90"
        await pilot.press("enter")
        await settle(pilot)
        entered = link.actions[-1]
        assert isinstance(entered, EnterSpeed)
        assert entered.speed_mps is not None
        assert abs(entered.speed_mps - 40.2336) < 1e-9  # NIST SP 811
        assert answer(app, "speed_mps").text == "90.0"
        await pilot.press("u")
        await settle(pilot)
        assert answer(app, "speed_mps").text != "90.0"
        await pilot.press("s")
        await pilot.pause()
        app.screen.query_one(Input).value = ""
        await pilot.press("enter")
        await settle(pilot)
        assert answer(app, "speed_mps").foot == "none yet; s to enter"


async def test_note_and_another_pitcher_for_a_pitch_looked_back_at() -> None:
    link = link_with(5)
    app = MoundfeedApp(link, roster=ROSTER)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("down", "n", *"high", "enter")
        await settle(pilot)
        note = link.actions[-1]
        assert isinstance(note, Note)
        assert (note.number, note.text) == (4, "high")
        assert "Note: high" in line(app, "sentence")
        await pilot.press("a", *"one", "enter")
        await settle(pilot)
        moved = link.actions[-1]
        assert isinstance(moved, Reassign)
        assert (moved.number, moved.pitcher) == (4, "P01")


async def test_the_zero_is_asked_for_twice() -> None:
    link = link_with(1)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("z")
        await pilot.pause()
        await pilot.press("escape")
        await settle(pilot)
        assert link.actions == []
        await pilot.press("z")
        await pilot.pause()
        await pilot.press("enter")
        await settle(pilot)
        assert isinstance(link.actions[-1], TakeZero)


async def test_a_screen_that_only_looks_on_changes_nothing() -> None:
    link = Operated(may_act=False)
    link.feed([])
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p", "v", "s", "n", "z", "u")
        await settle(pilot)
        assert link.actions == []
        assert len(app.screen_stack) == 2


async def test_a_refusal_is_shown_and_not_taken_for_done() -> None:
    link = link_with(2)
    link.refuse = "Pitch 2 is too far back."
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await settle(pilot)
        await pilot.press("n", *"x", "enter")
        await settle(pilot)
        assert "too far back" in shown(app)
        link.refuse = None
        await pilot.press("u")
        await settle(pilot)
        assert link.actions == []


async def test_keys_without_a_pitch_say_so() -> None:
    link = link_with(0)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await settle(pilot)
        await pilot.press("v")
        await settle(pilot)
        assert "There is no pitch yet" in shown(app)
