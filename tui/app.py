"""The terminal screen: pulls from the link on its own timer and does what the keys say."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

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
from stream.layout import Layout
from stream.monitor.view import Link
from stream.outputs import PitchRecord
from stream.roster import Roster
from tui import palette
from tui.board import Board
from tui.screens.base import EVERYTHING, MoundScreen
from tui.screens.deck import DeckScreen
from tui.screens.dialogs import (
    LeaveDialog,
    NoteDialog,
    SpeedDialog,
    ZeroDialog,
    pitcher_choice,
    void_choice,
)
from tui.screens.help import HelpScreen
from tui.screens.pitch import PitchScreen
from tui.undo import inverse, told
from tui.units import Units

PULLS_PER_S = 12.0
#: Undo reaches back so many actions.
_UNDO = 100
#: Classes of the layout by the terminal's rows and columns, see app.tcss.
_HEIGHTS = [(0, "-short"), (32, "-medium"), (50, "-tall")]
_WIDTHS = [(0, "-narrow"), (110, "-wide"), (160, "-broad")]
_ONLY_LOOKS = "This screen only looks on; it cannot change anything."
_NO_PITCH = "There is no pitch yet."


class MoundfeedApp(App[None]):
    """Screens over a :class:`stream.monitor.view.Link`.

    ``clock`` stamps actions, ns; ``notice`` stands in the feed line. Who
    ``owns_monitor`` is asked on leaving whether it goes on: ``end_monitor``.
    """

    TITLE = "moundfeed"
    CSS_PATH = "app.tcss"
    VERTICAL_BREAKPOINTS = _HEIGHTS
    HORIZONTAL_BREAKPOINTS = _WIDTHS
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("p", "pitcher", "Pitcher"),
        Binding("s", "speed", "Speed"),
        Binding("v", "void", "Void"),
        Binding("u", "undo", "Undo"),
        Binding("n", "note", "Note"),
        Binding("d", "other_screen", "Pitch/deck"),
        Binding("c", "component", "Curves"),
        Binding("question_mark", "help", "Help", key_display="?"),
        Binding("q", "leave", "Quit"),
        Binding("ctrl+q", "leave", "Quit", show=False, priority=True),
        Binding("a", "assign", "Assign the pitch to another pitcher", show=False),
        Binding("z", "zero", "Take the zero", show=False),
        Binding("t", "units", "SI or US units", show=False),
        Binding("l", "look", "Light or dark", show=False),
    ]

    def __init__(
        self,
        link: Link,
        layout: Layout | None = None,
        roster: Roster = Roster(),  # noqa: B008 - frozen
        units: Units = Units(),  # noqa: B008 - frozen
        look: str = "dark",
        clock: Callable[[], int] = time.time_ns,
        notice: str = "",
        owns_monitor: bool = False,
    ) -> None:
        super().__init__()
        self.board = Board(link)
        self.layout = layout
        self.roster = roster
        self.units = units
        self.notice = notice
        self.end_monitor = False
        self._owns_monitor = owns_monitor
        self._clock = clock
        self._done: list[Action] = []
        for known in palette.LOOKS.values():
            self.register_theme(palette.theme(known))
        self.theme = palette.theme(palette.LOOKS[look]).name

    async def on_mount(self) -> None:
        """Put up the coach's screen and start the timer."""
        self.install_screen(PitchScreen(), "pitch")
        self.install_screen(DeckScreen(self.layout), "deck")
        self.board.pull()
        await self.push_screen("pitch")
        self.set_interval(1.0 / PULLS_PER_S, self.pull)

    def pull(self) -> None:
        """Take what the link knows and draw what changed."""
        pulled = self.board.pull()
        screen = self._main_screen
        if screen is not None:
            screen.redraw(pulled)

    @property
    def _main_screen(self) -> MoundScreen | None:
        return next((s for s in reversed(self.screen_stack) if isinstance(s, MoundScreen)), None)

    def _redraw(self) -> None:
        screen = self._main_screen
        if screen is not None:
            screen.redraw(EVERYTHING)

    # What the keys do

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
            self.act(self._done.pop(), undoes=True)
        else:
            self.notify("There is nothing to take back.", markup=False)

    def action_leave(self) -> None:
        """Leave the screen; ask whether recording goes on without it."""
        if not self._owns_monitor or self.board.link.lost:
            self.exit()
        elif not isinstance(self.screen, LeaveDialog):
            self.push_screen(LeaveDialog(), self._left)

    def _left(self, end_monitor: bool | None) -> None:
        if end_monitor is not None:
            self.end_monitor = end_monitor
            self.exit()

    def action_other_screen(self) -> None:
        """Change between the coach's and the operator's screen."""
        main = self._main_screen
        if main is self.screen:
            self.switch_screen("deck" if isinstance(main, PitchScreen) else "pitch")

    def action_component(self) -> None:
        """Draw the next component of the force."""
        if isinstance(self.screen, PitchScreen):
            self.screen.next_component()

    def action_units(self) -> None:
        """Change between SI and US units."""
        self.units = self.units.other()
        self._redraw()

    def action_look(self) -> None:
        """Change between light and dark."""
        dark = self.current_theme.dark
        self.theme = palette.theme(palette.LIGHT if dark else palette.DARK).name
        self._redraw()

    def action_help(self) -> None:
        """Show the help."""
        if not isinstance(self.screen, HelpScreen):
            keys = [
                (b.key_display or b.key, b.description)
                for b in self.BINDINGS
                if isinstance(b, Binding) and b.key != "ctrl+q"
            ]
            keys += [("↑ ↓", "Earlier and later pitches"), ("home", "Back to the newest pitch")]
            self.push_screen(HelpScreen([*keys, ("ctrl+p", "All commands by name")]))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Return every action by name, for the command palette."""
        for binding in self.BINDINGS:
            if isinstance(binding, Binding) and binding.key != "ctrl+q":
                run = getattr(self, f"action_{binding.action}")
                text = (run.__doc__ or "").strip()
                yield SystemCommand(binding.description, text, run)

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

    def act(self, action: Action, undoes: bool = False) -> None:
        """Ask the monitor for ``action`` and say what came of it."""
        self.run_worker(self._act(action, undoes), group="actions")

    async def _act(self, action: Action, undoes: bool) -> None:
        number = getattr(action, "number", None)
        before = next((p.record for p in self.board.pitches if p.record.number == number), None)
        back = inverse(action, before, self._throwing)
        refused = await self.board.link.act(action)
        if refused:
            self.notify(refused, severity="error", markup=False)
            return
        if back is not None and not undoes:
            self._done = [*self._done[-_UNDO:], back]
        again = " u takes it back." if back is not None and not undoes else ""
        self.notify(told(action) + again, markup=False)

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
        self.notify(self.board.lost_say or _ONLY_LOOKS, severity="warning", markup=False)
        return False

    def _record(self) -> PitchRecord | None:
        if not self._may_act():
            return None
        row = self.board.shown
        if row is None:
            self.notify(_NO_PITCH, markup=False)
            return None
        return row.record
