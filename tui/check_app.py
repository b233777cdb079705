"""The screen of ``moundfeed check``: the set-up check and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from time import time_ns

from stream.checks.plan import Plan
from stream.layout import Layout
from stream.monitor.view import Link
from stream.roster import Roster
from stream.snapshot import CheckMade
from tui.app import MoundfeedApp
from tui.screens.check import CheckScreen
from tui.screens.check_dialogs import CheckWith
from tui.units import Units


class CheckApp(MoundfeedApp):
    """Guides through one set-up check and ends; ``made`` is what it found, None if it was left.

    ``plan`` says how; with a known mass in it the check begins as soon as the
    mound is heard, without it is asked for.
    """

    def __init__(
        self,
        link: Link,
        layout: Layout,
        plan: Plan,
        units: Units = Units(),  # noqa: B008 - frozen
        look: str = "dark",
        clock: Callable[[], int] = time_ns,
    ) -> None:
        super().__init__(link, layout, Roster(), units, look, clock)
        self.check_plan = plan
        self.made: CheckMade | None = None
        self._begun = False

    async def on_ready(self) -> None:
        """Put up the check's screen; the others lie below it."""
        await self.push_screen(CheckScreen(self.layout))

    def pull(self) -> None:
        """Begin when the mound is heard; keep what was found."""
        super().pull()
        snapshot = self.board.snapshot
        if snapshot is None:
            return
        if not self._begun and self.board.link.may_act and isinstance(self.screen, CheckScreen):
            self._begun = True
            self._begin()
        if snapshot.checking is not None:
            self.made = snapshot.checked if snapshot.checking.done else None

    def _begin(self) -> None:
        plan = self.check_plan
        if plan.mass_kg is not None:
            self.begin_check(CheckWith(plan.mass_kg, plan.spot, plan.by))
        else:
            self.action_check_new()

    def leave_check(self) -> None:
        """End with the check."""
        self.exit()

    def action_leave(self) -> None:
        """Leave; ask first if the check is not done."""
        if isinstance(self.screen, CheckScreen):
            self.action_check_leave()
