"""What a screen that runs for hours keeps: nothing of the dialogs that came and went."""

from __future__ import annotations

import gc
from collections import Counter

from textual._styles_cache import StylesCache
from textual.pilot import Pilot
from textual.widgets._footer import FooterKey

from tests.screens.invented import Operated, session, snapshot
from tui.app import MoundfeedApp
from tui.screens.help import HelpScreen
from tui.tidying import give_back

KINDS = {FooterKey: "keys at the foot", StylesCache: "drawings of widgets"}


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
