"""What the biomechanist changes after the fact: ask, append to the session's log, undo."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import msgspec

from analysis.review.changing import ChangeRefused, change
from analysis.sessions.stored import StoredSession
from stream.actions import Action, EnterSpeed, Note, Reassign, Restore, Void
from stream.files import FileError
from stream.monitor.presence import RuntimeFolderError
from stream.outputs import PitchRecord
from stream.recording.session import SessionError
from stream.roster import Pitcher, Roster
from tui.review.desk import Desk, Sitting
from tui.review.screen import ReviewScreen
from tui.screens.dialogs import NoteDialog, SpeedDialog, pitcher_choice, void_choice
from tui.telling import Telling
from tui.undo import inverse, told
from tui.units import Units

_UNDO = 100
_NOT_HERE = "A pitch is changed where it is seen: press 1 for the table."
_NO_PITCH = "There is no pitch to change: none is selected."


@dataclass(frozen=True)
class _Done:
    """An action that was carried out: in which sitting, and what takes it back."""

    sitting: Sitting
    back: Action


@dataclass(frozen=True)
class _Wanted:
    """An action that is to be carried out."""

    sitting: Sitting
    action: Action
    undoes: bool


class Changing(Telling):
    """The part of the review that changes something. ``clock`` stamps actions, ns."""

    def __init__(self, desk: Desk, units: Units, clock: Callable[[], int]) -> None:
        super().__init__()
        self.desk = desk
        self.units = units
        self._clock = clock
        self._done: list[_Done] = []
        self._waiting: deque[_Wanted] = deque()
        self._writing = False

    def redraw(self) -> None:
        """Draw everything anew."""
        raise NotImplementedError

    def action_void(self) -> None:
        """Ask why the pitch that is looked at is void; a void one counts again."""
        row = self.desk.shown
        record = self._record()
        if record is None or row is None:
            return
        if row.void:
            self.act(Restore(source=record.source, t_ns=self._clock(), number=record.number))
            return
        self.push_screen(void_choice(record.number), lambda reason: self._voided(record, reason))

    def action_note(self) -> None:
        """Ask for a note on the pitch that is looked at."""
        record = self._record()
        if record is not None:
            self.push_screen(
                NoteDialog(record.number, record.note), lambda text: self._noted(record, text)
            )

    def action_speed(self) -> None:
        """Ask for the ball speed of the pitch that is looked at."""
        record = self._record()
        if record is not None:
            self.push_screen(
                SpeedDialog(record.number, record.speed_mps, self.units),
                lambda speed: self._speed_entered(record, speed),
            )

    def action_assign(self) -> None:
        """Ask who threw the pitch that is looked at."""
        record = self._record()
        if record is not None:
            roster = _everybody(self.desk.now.session.roster, self.desk.pitchers)
            self.push_screen(
                pitcher_choice(f"Who threw pitch {record.number}?", roster, record.pitcher),
                lambda code: self._assigned(record, code),
            )

    def action_undo(self) -> None:
        """Take the last change of this session back."""
        if not self._pitch_in_sight():
            return
        mine = [d for d in self._done if d.sitting is self.desk.now]
        if not mine:
            self.tell("There is nothing to take back in this session.")
            return
        self._done.remove(mine[-1])
        back = msgspec.structs.replace(mine[-1].back, t_ns=self._clock())
        self.act(back, undoes=True)

    def act(self, action: Action, undoes: bool = False) -> None:
        """Append ``action`` to the log of the session before us and say what came of it."""
        self._waiting.append(_Wanted(self.desk.now, action, undoes))
        self._write_next()

    def _write_next(self) -> None:
        """One change after another, each upon the session as the last one left it."""
        if self._waiting and not self._writing:
            self._writing = True
            wanted = self._waiting.popleft()
            self.run_worker(lambda: self._carry_out(wanted), thread=True, group="changes")

    def _carry_out(self, wanted: _Wanted) -> None:
        """In a thread: a pitch for another pitcher may have to be measured anew."""
        try:
            session = change(wanted.sitting.session, wanted.action)
        except ChangeRefused as refused:
            self.call_from_thread(self._refused, str(refused))
        except (SessionError, FileError, RuntimeFolderError, OSError) as error:
            self.call_from_thread(self._refused, f"Not changed: {error}")
        else:
            self.call_from_thread(self._changed, wanted, session)

    def _refused(self, why: str) -> None:
        self._writing = False
        self.tell(why, severity="error")
        self._write_next()

    def _changed(self, wanted: _Wanted, session: StoredSession) -> None:
        self._writing = False
        action, sitting = wanted.action, wanted.sitting
        row = sitting.row(getattr(action, "number", None))
        back = inverse(action, row.record if row else None, "")
        sitting.take(session)
        if back is not None and not wanted.undoes:
            self._done = [*self._done[-_UNDO:], _Done(sitting, back)]
        again = " u takes it back." if back is not None and not wanted.undoes else ""
        self.tell(told(action) + again)
        self.redraw()
        self._write_next()

    # What the dialogs answered

    def _voided(self, record: PitchRecord, reason: str | None) -> None:
        if reason is not None:
            self.act(
                Void(source=record.source, t_ns=self._clock(), number=record.number, reason=reason)
            )

    def _noted(self, record: PitchRecord, text: str | None) -> None:
        if text is not None and text != record.note:
            self.act(
                Note(source=record.source, t_ns=self._clock(), number=record.number, text=text)
            )

    def _speed_entered(self, record: PitchRecord, speed: float | None) -> None:
        if speed is not None:
            self.act(
                EnterSpeed(
                    source=record.source,
                    t_ns=self._clock(),
                    number=record.number,
                    speed_mps=speed or None,
                )
            )

    def _assigned(self, record: PitchRecord, code: str | None) -> None:
        if code is not None and code != record.pitcher:
            self.act(
                Reassign(
                    source=record.source, t_ns=self._clock(), number=record.number, pitcher=code
                )
            )

    def _record(self) -> PitchRecord | None:
        if not self._pitch_in_sight():
            return None
        row = self.desk.shown
        if row is None:
            self.tell(_NO_PITCH)
            return None
        return row.record

    def _pitch_in_sight(self) -> bool:
        """Tell whether whoever changes a pitch sees it; say so where not."""
        if isinstance(self.screen, ReviewScreen):
            return True
        self.tell(_NOT_HERE)
        return False


def _everybody(roster: Roster, threw: list[str]) -> Roster:
    """Return the roster, and who threw without being on it."""
    known = {p.code for p in roster}
    return Roster((*roster.pitchers, *(Pitcher(c) for c in threw if c and c not in known)))
