"""What a screen that runs for hours keeps: records of pitches, nothing of dialogs and drawings."""

from __future__ import annotations

import gc
from collections import Counter

from textual._styles_cache import StylesCache
from textual.pilot import Pilot
from textual.widgets._footer import FooterKey

from stream.monitor.view import KEPT_TRACES
from tests.screens.invented import Operated, pitch, session, snapshot
from tui.app import MoundfeedApp
from tui.screens.help import HelpScreen
from tui.tidying import give_back

KINDS = {FooterKey: "keys at the foot", StylesCache: "drawings of widgets"}

#: Its record, view, row and line, and six values with their usual ones.
OBJECTS_A_PITCH = 16


def alive() -> dict[str, int]:
    """Return how many keys and drawings are held by anybody, after what the program does too."""
    give_back()
    kinds = Counter(type(thing) for thing in gc.get_objects())
    return {name: kinds[kind] for kind, name in KINDS.items()}


async def come_and_go(pilot: Pilot[None], times: int) -> None:
    """Open and leave the help."""
    for _ in range(times):
        await pilot.press("question_mark")
        assert isinstance(pilot.app.screen, HelpScreen)
        await pilot.press("escape")
        assert not isinstance(pilot.app.screen, HelpScreen)


async def test_dialogs_that_are_gone_leave_nothing() -> None:
    link = Operated()
    link.show(snapshot())
    link.feed(session(3))
    async with MoundfeedApp(link).run_test(size=(80, 24)) as pilot:
        await come_and_go(pilot, 1)
        before = alive()
        assert all(before.values())
        await come_and_go(pilot, 3)
        now = alive()
        assert all(now[name] <= before[name] for name in before), (before, now)


def held() -> int:
    """Return how many objects of the screen's own and its libraries' kinds are held."""
    give_back()
    homes = Counter(str(type(thing).__module__).partition(".")[0] for thing in gc.get_objects())
    return sum(homes[home] for home in ("tui", "analysis", "stream", "textual", "rich"))


async def test_a_pitch_leaves_its_record_and_no_drawing() -> None:
    link = Operated()
    link.show(snapshot())
    link.feed(session(KEPT_TRACES))  # that is more than there are lines on the screen
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:

        async def throw(first: int, pitches: int) -> None:
            for number in range(first, first + pitches):
                link.show(snapshot(moment=float(number)))
                link.feed([pitch(number, push=160.0 + number % 7)])
                app.pull()
                await pilot.pause()

        await throw(KEPT_TRACES + 1, 14)  # every drawing of digits and lines has been made once
        before = held()
        await throw(KEPT_TRACES + 15, 14)
        assert held() - before <= 14 * (OBJECTS_A_PITCH + 1)  # one to spare
