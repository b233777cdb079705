"""What the operator does on the screen: ask, act over the link, say what came of it, undo."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from stream.actions import (
    Action,
    ChoosePitcher,
    EnterSpeed,
    Note,
    Reassign,
    Restore,
    TakeZero,
    Void,
)
from stream.monitor.view import Link
from stream.outputs import PitchRecord
from stream.roster import Roster
from tui.board import Board
from tui.screens.dialogs import NoteDialog, SpeedDialog, ZeroDialog, pitcher_choice, void_choice
from tui.screens.help import HelpScreen
from tui.telling import Telling
from tui.undo import inverse, told
from tui.units import Units

#: Undo reaches back so many actions.
_UNDO = 100
_ONLY_LOOKS = "This screen only looks on; it cannot change anything."
_NOTHING_YET = "Nothing has come from the mound yet; wait for its feed."
_NO_PITCH = "There is no pitch yet."


class Operating(Telling):
    """The part of the app that changes something. ``clock`` stamps actions, ns."""

    def __init__(self, link: Link, roster: Roster, units: Units, clock: Callable[[], int]) -> None:
        super().__init__()
        self.board = Board(link)
        self.roster = roster
        self.units = units
        self._clock = clock
        self._done: list[Action] = []

    def action_pitcher(self) -> None:
        """Ask who throws from now on."""
        if self._may_act():
            ask = pitcher_choice("Who is throwing from now on?", self.roster, self._throwing)
            self.push_screen(ask, self._pitcher_chosen)

    def action_assign(self) -> None:
        """Ask who threw the pitch that is looked at."""
        record = self._record()
        if record is not None:
            title = f"Who threw pitch {record.number}?"
            ask = pitcher_choice(title, self.roster, record.pitcher)
            self.push_screen(ask, lambda code: self._assigned(record.number, code))

    def action_speed(self) -> None:
        """Ask for the ball speed of the pitch that is looked at."""
        record = self._record()
        if record is not None:
            ask = SpeedDialog(record.number, record.speed_mps, self.units)
            self.push_screen(ask, lambda speed: self._speed_entered(record.number, speed))

    def action_void(self) -> None:
        """Ask why the pitch that is looked at is void."""
        record = self._record()
        if record is not None:
            self.push_screen(
                void_choice(record.number), lambda reason: self._voided(record.number, reason)
            )

    def action_note(self) -> None:
        """Ask for a note on the pitch that is looked at."""
        record = self._record()
        if record is not None:
            self.push_screen(
                NoteDialog(record.number, record.note),
                lambda text: self._noted(record.number, text),
            )

    def action_zero(self) -> None:
        """Ask before the zero is taken."""
        if self._may_act():
            self.push_screen(ZeroDialog(), self._zero_wanted)

    def action_undo(self) -> None:
        """Take the last action back; of a void pitch that is looked at, its void first."""
        if not self._may_act():
            return
        row = self.board.shown
        if row is not None and row.void:
            number = row.record.number
            self._done = [a for a in self._done if a != self._restore(number, a.t_ns)]
            self.act(self._restore(number, self._clock()), undoes=True)
        elif self._done:
            self.act(replace(self._done.pop(), t_ns=self._clock()), undoes=True)
        else:
            self.tell("There is nothing to take back.")

    # What the dialogs answered

    def _pitcher_chosen(self, code: str | None) -> None:
        if code is not None and code != self._throwing:
            self.act(ChoosePitcher(source=self._source, t_ns=self._clock(), pitcher=code))

    def _assigned(self, number: int, code: str | None) -> None:
        if code is not None:
            self.act(Reassign(source=self._source, t_ns=self._clock(), number=number, pitcher=code))

    def _speed_entered(self, number: int, speed: float | None) -> None:
        if speed is not None:
            self.act(
                EnterSpeed(
                    source=self._source,
                    t_ns=self._clock(),
                    number=number,
                    speed_mps=speed or None,
                )
            )

    def _voided(self, number: int, reason: str | None) -> None:
        if reason is not None:
            self.act(Void(source=self._source, t_ns=self._clock(), number=number, reason=reason))

    def _noted(self, number: int, text: str | None) -> None:
        if text is not None:
            self.act(Note(source=self._source, t_ns=self._clock(), number=number, text=text))

    def _zero_wanted(self, wanted: bool | None) -> None:
        if wanted:
            self.act(TakeZero(source=self._source, t_ns=self._clock(), by="operator"))

    def act(self, *actions: Action, undoes: bool = False) -> None:
        """Ask the monitor for ``actions``, in their order, and say what came of them."""
        self.run_worker(self._act_all(actions, undoes), group="actions")

    async def _act_all(self, actions: Sequence[Action], undoes: bool) -> None:
        for action in actions:
            await self._act(action, undoes)

    async def _act(self, action: Action, undoes: bool) -> None:
        number = getattr(action, "number", None)
        before = next((p.record for p in self.board.pitches if p.record.number == number), None)
        back = inverse(action, before, self._throwing)
        refused = await self.board.link.act(action)
        if refused:
            self.tell(refused, "error")
            return
        if back is not None and not undoes:
            self._done = [*self._done[-_UNDO:], back]
        again = " u takes it back." if back is not None and not undoes else ""
        if text := told(action):
            self.tell(text + again)

    # What is known now

    @property
    def _source(self) -> str:
        snapshot = self.board.snapshot
        return snapshot.source if snapshot else ""

    @property
    def _throwing(self) -> str:
        snapshot = self.board.snapshot
        return snapshot.pitcher if snapshot else ""

    def _restore(self, number: int, t_ns: int) -> Restore:
        return Restore(source=self._source, t_ns=t_ns, number=number)

    def _may_act(self) -> bool:
        if self.board.link.may_act and self.board.snapshot is not None:
            return not isinstance(self.screen, HelpScreen)
        waits = _NOTHING_YET if self.board.link.may_act else _ONLY_LOOKS
        self.tell(self.board.lost_say or waits, "warning")
        return False

    def _record(self) -> PitchRecord | None:
        if not self._may_act():
            return None
        row = self.board.shown
        if row is None:
            self.tell(_NO_PITCH)
            return None
        return row.record
