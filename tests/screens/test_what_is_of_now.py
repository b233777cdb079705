"""What is of before is not shown as of now; what is to be read at once is never cut off."""

from __future__ import annotations

import msgspec
import pytest

from stream.files import load_layout
from stream.snapshot import CheckNow, CheckStepNow, FeedState, Level, Sentence, StepState, Strip
from tests.screens.invented import Operated, session, snapshot
from tests.screens.test_pitch_screen import SIZES, link_with, settle, shown
from tui.app import MoundfeedApp
from tui.screens.check import CheckScreen
from tui.units import System, Units

LOST = (
    "The monitor has not answered for 4 s: nothing may be received or recorded now. What was "
    "recorded is kept. Start the monitor again; this screen finds it by itself."
)
CONNECTED = Sentence(Level.INFO, "connection", "Connected to tcp://192.0.2.7:5555.")
MOVED = Sentence(
    Level.WARNING,
    "zero",
    "The zero moved by -7.6 N since it was taken (0.85% of body weight): it matters now. Empty "
    "the deck, see that nothing lies on it, and take the zero anew.",
)


class Losable(Operated):
    """A link whose monitor goes when ``gone`` is set."""

    gone = False

    @property
    def lost(self) -> bool:
        return self.gone

    @property
    def lost_say(self) -> str:
        return LOST if self.gone else ""


def words(app: MoundfeedApp) -> str:
    return " ".join(shown(app).split())


def texts(app: MoundfeedApp, *names: str) -> str:
    """The words of single widgets: columns stand side by side on the screen."""
    found = (app.screen.query_one(f"#{name}").text for name in names)  # type: ignore[attr-defined]
    return " ".join(" ".join(found).split())


@pytest.mark.parametrize("size", SIZES)
async def test_a_monitor_that_is_gone_is_said_with_what_to_do_and_nothing_of_before(
    size: tuple[int, int],
) -> None:
    link = Losable()
    link.show(snapshot(sentences=(CONNECTED, MOVED)))
    link.feed(session(3))
    app = MoundfeedApp(link, load_layout("two-plates"), units=Units(System.SI))
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        link.gone = True
        await settle(pilot)
        assert "✖ MONITOR GONE what is shown is of before" in words(app)
        assert texts(app, "message") == f"✖ {LOST}"
        assert "12.4 MB" not in words(app)
        await pilot.press("d")
        await settle(pilot)
        assert texts(app, "todo") == f"WHAT TO DO ✖ {LOST}"
        assert texts(app, "facts") == ""
        assert "380 N" not in texts(app, "plan")
        assert "│ —" in texts(app, "plan")
        link.gone = False
        await settle(pilot)
        assert "Connected to" in texts(app, "todo")
        assert "380 N" in texts(app, "plan")


async def test_a_feed_that_stopped_shows_no_load_and_no_rate() -> None:
    link = Operated()
    link.show(snapshot(FeedState.STALLED, age_s=4.0))
    app = MoundfeedApp(link, load_layout("two-plates"), units=Units(System.SI))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        assert texts(app, "message") == "throwing: P03 · deck not seen now · body weight 880 N"
        await pilot.press("d")
        await settle(pilot)
        assert "rate — of 200.0 Hz" in texts(app, "facts")
        assert "deck deck not seen now" in texts(app, "facts")
        assert "380 N" not in texts(app, "plan")
        assert "⣿" not in texts(app, "load")


async def test_a_number_that_has_no_room_is_left_out_not_cut() -> None:
    link = Operated()
    link.show(
        snapshot(sentences=(Sentence(Level.INFO, "no check mound-a", "No set-up check was made."),))
    )
    app = MoundfeedApp(link)
    for width in (64, 72, 80, 88, 100):
        async with app.run_test(size=(width, 24)) as pilot:
            await settle(pilot)
            line = texts(app, "message")
            assert "…" not in line
            assert "body weight" not in line or line.endswith("body weight 198 lbf")
        app = MoundfeedApp(link)


@pytest.mark.parametrize("size", SIZES)
async def test_what_is_wrong_is_said_whole_on_every_screen(size: tuple[int, int]) -> None:
    link = link_with(3)
    link.show(snapshot(sentences=(MOVED,)))
    app = MoundfeedApp(link, load_layout("two-plates"), units=Units(System.SI))
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        assert MOVED.text in texts(app, "message")
        await pilot.press("d")
        await settle(pilot)
        assert MOVED.text in texts(app, "message")
        assert "Help" in shown(app)
        assert "first-base side home plate" in words(app).replace("▲ ", "")
        await app.push_screen(CheckScreen(app.layout))
        await settle(pilot)
        assert texts(app, "message") == f"! {MOVED.text}"
        link.show(snapshot())
        await settle(pilot)
        assert app.screen.query_one("#message").size.height <= 3


async def test_what_hinders_a_step_of_the_check_is_said_whole() -> None:
    say = (
        "rear Fz (channel 2): +48.1 lbf with nobody on the deck. Perhaps the known mass stood "
        "there from the beginning: the empty deck comes first. Take everything off and do this "
        "step once more."
    )
    steps = [CheckStepNow("Step off: zero and noise", StepState.NOW)]
    steps += [CheckStepNow("Known mass: weight, signs, place", StepState.AHEAD)]
    steps += [CheckStepNow("Stand on: body weight", StepState.AHEAD)]
    now = CheckNow(
        steps=steps,
        number=1,
        do="Step off the deck and take everything off it; nobody walks beside it.",
        progress=0.0,
        hindrance=say,
        found=[],
        body_weight_n=None,
        done=False,
        mass_kg=20.0,
        at_m=(1.2, 0.2),
    )
    link = Operated()
    link.show(msgspec.structs.replace(snapshot(), checking=now))
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await app.push_screen(CheckScreen(app.layout))
        await settle(pilot)
        do = app.screen.query_one("#do")
        assert say in texts(app, "do")
        assert len(do.text.split("\n")) <= do.size.height  # type: ignore[attr-defined]


async def test_why_there_are_no_curves_is_said_whole() -> None:
    link = Operated()
    link.show(snapshot())
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        rows = [row[:40] for row in shown(app).split("\n")]
        assert "The curves of the pitch show here, both legs, with its events." in " ".join(
            " ".join(rows).split()
        )


async def test_a_mound_that_measures_nothing_is_not_called_ready() -> None:
    say = (
        "The feed has 10 channels, the layout 'two-plates' 12. Nothing is measured: start again "
        "with this mound's layout."
    )
    nothing = msgspec.structs.replace(
        snapshot(sentences=(Sentence(Level.ALARM, "wrong_layout", say),)), strip=Strip(0.02, [], [])
    )
    link = Operated()
    link.show(nothing)
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert texts(app, "sentence") == "No pitch yet. First put right what is said above."
        await pilot.press("d")
        await settle(pilot)
        assert "last 0 s" not in words(app)
        await pilot.press("d")
        link.show(snapshot())
        await settle(pilot)
        assert texts(app, "sentence").startswith("Ready.")
