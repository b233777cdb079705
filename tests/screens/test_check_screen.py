"""The guided set-up check, driven from the first key to the result, on invented readings."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from stream.actions import GuideCheck, StartCheck
from stream.checks.plan import usual_spot
from stream.checks.response import under
from stream.checks.verdict import Status
from stream.snapshot import DeckState
from tests.checks.bench import SPOT, Array, G
from tests.screens.fed_mound import FedMound
from tests.screens.invented import LAYOUTS, Operated, load_layout, snapshot
from tests.screens.test_pitch_screen import SIZES, settle, shown
from tui.app import MoundfeedApp
from tui.screens.check import CheckScreen
from tui.units import System, Units

STANDING_AT = (0.0, 0.0)


def app_of(mound: FedMound) -> MoundfeedApp:
    return MoundfeedApp(mound, mound.layout, units=Units(System.SI))


def words(app: MoundfeedApp) -> str:
    """What is shown, with lines that were wrapped put together again."""
    return " ".join(shown(app).split())


def lines(app: MoundfeedApp, name: str) -> str:
    """Everything in one text of the check's screen, scrolled to or not, unwrapped."""
    return " ".join(app.screen.query_one(f"#{name}").text.split())  # type: ignore[attr-defined]


async def begin(
    pilot: Pilot[None],
    *,
    mass: str = "20",
    at: tuple[str, str] = (f"{SPOT[0]}", f"{SPOT[1]}"),
    by: str = "J. D.",
) -> None:
    """Press the key, fill in the dialog, and begin."""
    await settle(pilot)
    await pilot.press("k")
    await pilot.pause()
    screen = pilot.app.screen
    for name, value in (("mass", mass), ("x", at[0]), ("y", at[1]), ("by", by)):
        screen.query_one(f"#{name}", Input).value = value
    await pilot.press("enter")
    await settle(pilot)


@pytest.mark.parametrize("size", SIZES)
async def test_every_step_on_a_good_mound(size: tuple[int, int]) -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        assert mound.actions[-1] == StartCheck(
            source="mound-a",
            t_ns=mound.actions[-1].t_ns,
            by="J. D.",
            mass_kg=20.0,
            at_m=SPOT,
        )
        text = lines(app, "do")
        assert "step 1 of 3" in text
        assert "Step off the deck" in text
        assert "electrical codes" in text
        mound.bear(2.5)
        await settle(pilot)
        assert "45 % still" in lines(app, "do") or "50 % still" in lines(app, "do")
        mound.bear(4.0)
        await settle(pilot)
        text = lines(app, "do")
        assert "step 2 of 3" in text
        assert "Put the 20 kg on the marked spot ◎" in text
        assert "the marked spot ◎, 1.80 m in front of" in text
        assert "◎" in lines(app, "checkplan")
        assert "channels quiet" in lines(app, "found")
        mound.bear(7.0, 20.0, SPOT)
        await settle(pilot)
        assert "step 3 of 3" in lines(app, "do")
        assert "known mass reads 20 kg" in lines(app, "found")
        mound.bear(1.5)
        mound.bear(4.0, 82.0, STANDING_AT)
        await settle(pilot)
        assert "Done: nothing failed" in lines(app, "do")
        assert all(len(row) == size[0] for row in shown(app).split("\n"))
        (report,) = mound.reports
        assert report.ok
        assert report.by == "J. D."
        assert report.body_weight_n == pytest.approx(82.0 * G, rel=0.003)
        (zero,) = mound.zeros
        assert zero.tare.by == "J. D."
        assert mound.core.zero.reference is not None
        assert mound.core.zero.reference.tare == pytest.approx(zero.tare.values)
        await pilot.press("escape")
        await settle(pilot)
        assert not isinstance(app.screen, CheckScreen)
        assert mound.latest is not None
        assert mound.latest.checking is None
        assert mound.latest.checked is not None


def flipped(ideal: Array) -> Array:
    """Front Fz with the wrong sign."""
    ideal = ideal.copy()
    ideal[8] *= -1.0
    return ideal


@pytest.mark.parametrize("size", SIZES)
async def test_a_wrong_sign_is_said_with_what_to_do_and_the_session_says_that_it_failed(
    size: tuple[int, int],
) -> None:
    mound = FedMound(wire=flipped)
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        mound.bear(6.0)
        mound.bear(7.0, 20.0, SPOT)
        await settle(pilot)
        said = "✖ FAIL signs: Front Fz (channel 8) has the wrong sign; turn that channel's sign"
        assert said in words(app)
        await pilot.press("s")
        await settle(pilot)
        assert "then b does step 2 again" in lines(app, "do")
        assert "3 Stand on: body weight skipped" in lines(app, "do")
        await pilot.press("escape", "d")
        await settle(pilot)
        assert "The set-up check of this session did not pass (signs)" in words(app)
        told = lines(app, "facts")
        assert "did not pass (J. D., " in told
        assert "FAIL signs" in told


async def test_frames_that_are_lost_are_said_while_the_operator_is_busy() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        mound.bear(1.5)
        mound.miss(20)
        mound.bear(1.5)
        await settle(pilot)
        assert "step 1 of 3" in lines(app, "do")
        assert "FAIL continuity: The feed has holes: 20 of" in words(app)
        assert "Use a cable in place of wireless" in words(app)


async def test_a_step_is_taken_again_and_the_check_is_judged_anew() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot)
        mound.bear(6.0)
        beside = (SPOT[0] - 0.2, SPOT[1])
        mound.bear(7.0, 20.0, beside)
        await settle(pilot)
        assert "FAIL position" in words(app)
        await pilot.press("b")
        await settle(pilot)
        assert "step 2 of 3" in lines(app, "do")
        assert "FAIL position" not in words(app)
        mound.bear(1.0, 20.0, beside)
        mound.bear(1.0)
        mound.bear(7.0, 20.0, SPOT)
        await settle(pilot)
        assert "step 3 of 3" in lines(app, "do")
        await pilot.press("s")
        await settle(pilot)
        assert mound.reports[-1].ok
        await pilot.press("b")  # the last step again, after the end
        mound.bear(1.0)
        mound.bear(4.0, 82.0, STANDING_AT)
        await settle(pilot)
        assert len(mound.reports) == 2
        assert mound.reports[-1].body_weight_n == pytest.approx(82.0 * G, rel=0.003)
        assert {r.check for r in mound.reports[-1].checks if r.status is Status.NOT_RUN} <= {
            "clock",
            "latency",
        }


async def test_a_check_that_is_ended_leaves_nothing_behind() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        mound.bear(6.0)
        await settle(pilot)
        await pilot.press("escape")
        await settle(pilot)
        assert "nothing of it is kept" in shown(app)
        await pilot.press("escape")
        await settle(pilot)
        assert "step 2 of 3" in lines(app, "do")  # it goes on
        await pilot.press("escape", "e")
        await settle(pilot)
        assert not isinstance(app.screen, CheckScreen)
        assert mound.reports == []
        assert mound.zeros == []
        assert mound.latest is not None
        assert mound.latest.checking is None


async def test_somebody_on_the_deck_hinders_and_the_operator_may_insist() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await begin(pilot, mass="")
        await pilot.press("enter")
        await settle(pilot)
        assert "Nothing stands still yet" in words(app)
        mound.bear(8.0, 80.0, STANDING_AT)
        await settle(pilot)
        assert "The deck is not empty: 78" in words(app)
        await pilot.press("enter")
        await settle(pilot)
        assert "step 2 of 2" in lines(app, "do")  # without a known mass: stand on
        assert "FAIL zero" in words(app)


async def test_what_was_typed_is_checked_before_anything_begins() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await settle(pilot)
        await pilot.press("k")
        await pilot.pause()
        mass = app.screen.query_one("#mass", Input)
        assert float(mass.value) == 20.0
        for value, says in (("heavy", "no number"), ("0", "between 0 and"), ("nan", "no number")):
            mass.value = value
            await pilot.press("enter")
            assert says in str(app.screen.query_one("#wrong", Static).content)
        mass.value = "20"
        app.screen.query_one("#x", Input).value = "9"
        await pilot.press("enter")
        await settle(pilot)
        assert "marked spot lies beside the" in words(app)
        assert "None was made yet" in lines(app, "do")


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_spot_suggested_lies_off_both_middle_lines(name: str) -> None:
    layout = load_layout(name)
    x, y = usual_spot(layout)
    platform = under(layout, (x, y))
    assert platform is not None
    assert abs(y) > 0.2
    if len(layout.platforms) < 10:
        assert abs(x - platform.centre[0]) > 0.2


async def test_the_check_has_its_own_keys_and_no_others() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        text = shown(app)
        for part in ("Take now", "Skip", "Back", "New check", "Leave"):
            assert part in text
        for part in ("Pitcher", "Void", "Deck", "Curves"):
            assert part not in text.split("\n")[-1]
        before = len(mound.actions)
        await pilot.press("v", "p", "z")
        await settle(pilot)
        assert len(mound.actions) == before
        assert isinstance(app.screen, CheckScreen)


async def test_who_only_looks_on_cannot_begin_a_check() -> None:
    link = Operated(may_act=False)
    link.show(snapshot(deck=DeckState.EMPTY))
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await settle(pilot)
        await pilot.press("k")
        await settle(pilot)
        assert not isinstance(app.screen, CheckScreen)
        assert "only looks on" in words(app)


async def test_a_step_of_the_check_is_found_in_the_palette() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = app_of(mound)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert "Check" in [c.title for c in app.get_system_commands(app.screen)]
        await begin(pilot)
        mound.bear(1.0)
        await settle(pilot)
        assert any(isinstance(a, StartCheck) for a in mound.actions)
        assert not any(isinstance(a, GuideCheck) for a in mound.actions)
