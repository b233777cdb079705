"""What is typed into a dialog can be read there, at every size, and what is wrong says where."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.app import App
from textual.screen import Screen
from textual.widgets import Input, Static

from stream.actions import StartCheck
from stream.roster import Roster
from tests.screens.fed_mound import FedMound
from tests.screens.test_pitch_screen import SIZES, settle, shown
from tui.app import MoundfeedApp
from tui.screens.check_dialogs import CheckDialog, CheckWith
from tui.screens.dialogs import NoteDialog, SpeedDialog, pitcher_choice, void_choice
from tui.study.app import StudyApp
from tui.study.saving import SaveDialog
from tui.units import System, Units

SI = Units(System.SI)
DIALOGS: dict[str, Callable[[], Screen[Any]]] = {
    "check": lambda: CheckDialog(CheckWith(20.0, (1.8, 0.3), "J. D."), SI),
    "speed": lambda: SpeedDialog(3, 36.2, SI),
    "note": lambda: NoteDialog(3, ""),
    "pitcher": lambda: pitcher_choice("Who?", Roster(), ""),
    "void": lambda: void_choice(3),
    "save": lambda: SaveDialog("spread"),
}


def seen(app: App[None], box: Input) -> str:
    """Return what the terminal shows where ``box`` stands."""
    rows = [strip.text for strip in app.screen._compositor.render_strips()]
    at = box.region
    return "\n".join(row[at.x : at.right] for row in rows[at.y : at.bottom])


def host(name: str) -> App[None]:
    """Return the app whose layout the dialog has."""
    return StudyApp([]) if name == "save" else MoundfeedApp(FedMound(), units=SI)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DIALOGS)
async def test_what_stands_and_is_typed_in_a_field_is_seen(
    name: str, size: tuple[int, int]
) -> None:
    app = host(name)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await app.push_screen(DIALOGS[name]())
        await pilot.pause()
        boxes = list(app.screen.query(Input))
        assert boxes
        for number, box in enumerate(boxes):
            if box.value:
                assert box.value in seen(app, box)
            box.value = ""
            box.focus()
            await pilot.pause()
            await pilot.press(*f"1{number}5")
            await pilot.pause()
            assert f"1{number}5" in seen(app, box)


WRONG = (
    ("mass", "heavy", "known mass: 'heavy' is no number"),
    ("mass", "20 m", "known mass: '20 m' is no number"),
    ("mass", "nan", "known mass: 'nan' is no number"),
    ("mass", "0", "known mass: lies between 0 and"),
    ("x", "1.2.3", "spot x, forward: '1.2.3' is no number"),
    ("x", "", "spot x, forward: is empty"),
    ("y", "left", "spot y, towards first base: 'left' is no number"),
    ("y", "", "spot y, towards first base: is empty"),
)


async def test_a_wrong_entry_says_which_field_and_units_may_be_typed() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = MoundfeedApp(mound, mound.layout, units=SI)
    good = {"mass": "45 lb", "x": "1.6 ft", "y": "30cm"}
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("k")
        await pilot.pause()
        boxes = {name: app.screen.query_one(f"#{name}", Input) for name in good}
        for name, typed, says in WRONG:
            for other, value in {**good, name: typed}.items():
                boxes[other].value = value
            await pilot.press("enter")
            await pilot.pause()
            assert str(app.screen.query_one("#wrong", Static).content).startswith(says)
            assert says in shown(app)
            assert app.screen.focused is boxes[name]
        assert mound.actions == []
        boxes["y"].value = good["y"]
        await pilot.press("enter")
        await settle(pilot)
    (begun,) = mound.actions
    assert isinstance(begun, StartCheck)
    # Factors: NIST SP 811 (2008), appendix B.8.
    assert begun.mass_kg == pytest.approx(20.41165665)
    assert begun.at_m == pytest.approx((0.48768, 0.3))
