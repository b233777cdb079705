"""The set-up check from the operator's side: begin it, guide it, leave it."""

from __future__ import annotations

from collections.abc import Callable

from stream.actions import CheckMove, GuideCheck, StartCheck
from stream.checks.plan import Plan, usual_spot
from stream.layout import Layout
from stream.snapshot import CheckNow
from tui.check_steps import moves_back
from tui.notices import DEMO_NOTICE
from tui.operating import Operating
from tui.screens.check import CheckScreen
from tui.screens.check_dialogs import CheckDialog, CheckWith, EndCheckDialog
from tui.units import LB_KG, System

#: What the dialog suggests at first: a mass that one person lifts safely, kg.
_USUAL_MASS_KG = 20.0


class Checking(Operating):
    """The part of the app that makes set-up checks."""

    layout: Layout | None = None
    #: What stands in the feed line beside the feed.
    notice: str = ""
    #: How long each load is looked at, whether somebody is weighed, local gravity, who checks.
    check_plan: Plan = Plan(stand=True)
    _check_with: CheckWith | None = None

    def action_check(self) -> None:
        """Show the last set-up check made; where there is none, make it step by step."""
        if isinstance(self.screen, CheckScreen) or not self._may_act():
            return
        self.push_screen(CheckScreen(self.layout))
        snapshot = self.board.snapshot
        seen = self.notice == DEMO_NOTICE or (snapshot is not None and snapshot.checked is not None)
        if self._checking is None and not seen:
            self.action_check_new()

    def action_check_new(self) -> None:
        """Ask what the set-up check is to be made with, and begin it."""
        if self._may_act():
            self.push_screen(CheckDialog(self._usual(), self.units), self._check_wanted)

    def action_check_take(self) -> None:
        """Take the load as it stands, although the check still waits for it."""
        self._guide(CheckMove.TAKE)

    def action_check_skip(self) -> None:
        """Leave the present step of the check undone."""
        self._guide(CheckMove.SKIP)

    def action_check_back(self) -> None:
        """Do the step before once more; after the end, the first step that failed."""
        now = self._checking
        if now is not None:
            self._guide(CheckMove.BACK, moves_back(now))

    def action_check_leave(self, then: Callable[[], None] | None = None) -> None:
        """Leave the set-up check; ask first if it is not done. ``then``: what comes after."""
        if self.check_open:
            self.push_screen(EndCheckDialog(), lambda wanted: self._end_wanted(wanted, then))
        else:
            self._end_wanted(True, then)

    @property
    def check_open(self) -> bool:
        """Whether a check runs here that would be lost by leaving it."""
        now = self._checking
        return now is not None and not now.done and not self.board.link.lost

    def leave_check(self) -> None:
        """Go back to the screen before."""
        if isinstance(self.screen, CheckScreen):
            self.pop_screen()

    def begin_check(self, wanted: CheckWith) -> None:
        """Ask the monitor to begin a check."""
        self._check_with = wanted
        self.act(
            StartCheck(
                source=self._source,
                t_ns=self._clock(),
                by=wanted.by,
                mass_kg=wanted.mass_kg,
                at_m=wanted.at_m,
                stand=self.check_plan.stand,
                seconds=self.check_plan.seconds,
                gravity=self.check_plan.gravity,
            )
        )

    def _check_wanted(self, wanted: CheckWith | None) -> None:
        if wanted is not None:
            self.begin_check(wanted)

    def _end_wanted(self, wanted: bool | None, then: Callable[[], None] | None) -> None:
        if wanted:
            self.run_worker(self._end_check(then), group="actions")

    async def _end_check(self, then: Callable[[], None] | None) -> None:
        """End the check and leave its screen, in this order: the app may end with the screen."""
        if self._checking is not None and self.board.link.may_act:
            stop = GuideCheck(source=self._source, t_ns=self._clock(), move=CheckMove.STOP)
            await self.board.link.act(stop)
        self.leave_check()
        if then is not None:
            then()

    def _guide(self, move: CheckMove, times: int = 1) -> None:
        now = self._checking
        if now is None or not self._may_act():
            return
        if now.done and move in (CheckMove.TAKE, CheckMove.SKIP):
            return
        self.act(
            *(GuideCheck(source=self._source, t_ns=self._clock(), move=move) for _ in range(times))
        )

    def _usual(self) -> CheckWith:
        """Return what was typed last, or what suits the layout."""
        if self._check_with is not None:
            return self._check_with
        made = self.board.snapshot.checked if self.board.snapshot else None
        by = self.check_plan.by or (made.by if made else "")
        if self.layout is None:
            return CheckWith(None, None, by)
        mass = 45.0 * LB_KG if self.units.system is System.US else _USUAL_MASS_KG
        return CheckWith(mass, usual_spot(self.layout), by)

    @property
    def _checking(self) -> CheckNow | None:
        snapshot = self.board.snapshot
        return snapshot.checking if snapshot else None
