"""The review: stored sessions on the screen, driven by keys, mouse and the command palette."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar

from textual.app import SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

from analysis.sessions.measured import measure
from analysis.sessions.stored import StoredSession
from tui import palette
from tui.review.curving import Curving
from tui.review.days import DaysScreen
from tui.review.desk import Desk, Sitting
from tui.review.help import PARTS
from tui.review.job import Job, Progress, Settle
from tui.review.keys import KEYS
from tui.review.pitch_table import column_key
from tui.review.screen import Pane, ReviewScreen
from tui.screens.help import HelpScreen
from tui.units import Units
from tui.widgets.list_table import ListTable

_HEIGHTS = [(0, "-short"), (32, "-medium"), (50, "-tall")]
_WIDTHS = [(0, "-narrow"), (110, "-wide"), (180, "-broad")]
_POLLS_PER_S = 5.0


class ReviewApp(Curving):
    """Screens over a :class:`tui.review.desk.Desk`. ``clock`` stamps changes, ns."""

    TITLE = "moundfeed review"
    CSS_PATH = "review.tcss"
    VERTICAL_BREAKPOINTS = _HEIGHTS
    HORIZONTAL_BREAKPOINTS = _WIDTHS
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = KEYS

    def __init__(
        self,
        sessions: Sequence[StoredSession],
        units: Units = Units(),  # noqa: B008 - frozen
        look: str = "dark",
        clock: Callable[[], int] = time.time_ns,
        *,
        read_curves: bool = True,
    ) -> None:
        super().__init__(Desk(sessions), units, clock)
        self.reading = Job()
        self._read_curves = read_curves
        self._reading_of: Sitting | None = None
        palette.put_on(self, look)

    async def on_mount(self) -> None:
        """Put up the screen and begin to read for curves."""
        await self.push_screen(ReviewScreen())
        self.set_interval(1.0 / _POLLS_PER_S, self.poll)
        if self._read_curves:
            self._begin_reading()

    def on_unmount(self) -> None:
        """Leave no thread behind."""
        self.reading.stop()
        self.writing.stop()

    def redraw(self) -> None:
        """Draw everything anew."""
        for screen in self.screen_stack:
            if isinstance(screen, ReviewScreen | DaysScreen):
                screen.redraw()

    def poll(self) -> None:
        """Take what the threads have told."""
        told = [self.reading.poll(), self.writing.poll()]
        if any(told):
            self._tell_shares()
            self.redraw()

    # What is in sight

    def action_pane(self, name: str) -> None:
        """Show a pane."""
        if isinstance(self.screen, DaysScreen):
            self.pop_screen()
        if self.main is not None:
            self.main.turn_to(Pane(name))

    def action_days(self) -> None:
        """Show all sessions side by side."""
        if isinstance(self.screen, ReviewScreen):
            self.push_screen(DaysScreen())

    def action_session(self, by: int) -> None:
        """Look at another session; side by side, put others beside the first."""
        if isinstance(self.screen, DaysScreen):
            self.screen.turn(by)
            return
        at = self.desk.at + by
        if 0 <= at < len(self.desk.sittings):
            self.desk.at = at
            if self._read_curves:
                self._begin_reading()
            self.redraw()

    def action_read(self) -> None:
        """Read the recordings for curves."""
        self._begin_reading()
        self.redraw()

    def action_stop(self) -> None:
        """Stop what goes on in the background: writing first, then reading."""
        for job in (self.writing, self.reading):
            if job.busy:
                job.stop()
                break
        self._tell_shares()
        self.redraw()

    def action_units(self) -> None:
        """Change between SI and US units."""
        self.units = self.units.other()
        self.redraw()

    def action_look(self) -> None:
        """Change between light and dark."""
        palette.turn(self)
        self.redraw()

    # Pitches

    def action_step(self, by: int) -> None:
        """Look at the pitch above or below in the table."""
        self.desk.step(by)
        self.redraw()

    def action_mark(self) -> None:
        """Lay the pitch over the curves of others, or take it off."""
        number = self.desk.now.chosen
        if number is None:
            return
        if not self.desk.mark(number):
            self.tell("No more can be told apart; x takes all off.")
        self.redraw()

    def action_unmark(self) -> None:
        """Take all pitches off the curves."""
        self.desk.now.marked.clear()
        self.redraw()

    def on_list_table_chosen(self, message: ListTable.Chosen) -> None:
        """Look at another pitch, or read another metric."""
        if isinstance(self.screen, DaysScreen):
            self.screen.table.point_at(message.key)
            self.screen.choose(message.key)
            return
        if message.table.id == "pitches":
            self.desk.choose(int(message.key))
        else:
            self.desk.metric = message.key
        self.redraw()

    def on_list_table_head_clicked(self, message: ListTable.HeadClicked) -> None:
        """Order by the column; a second click turns the order round."""
        main = self.main
        if message.table.id == "pitches" and main is not None:
            shown = len(self.desk.columns) - main.left_out
            key = column_key(self.desk, message.column, shown)
            if key is not None:
                self.order_by(key)

    # Words

    def action_help(self) -> None:
        """Show the help."""
        if not isinstance(self.screen, HelpScreen):
            keys = [
                (b.key_display or b.key, b.description)
                for b in self.BINDINGS
                if isinstance(b, Binding) and b.key != "ctrl+q"
            ]
            more = [("↑ ↓", "Row above and below"), ("ctrl+p", "All commands by name")]
            self.push_screen(HelpScreen([*keys, *more], PARTS))

    def action_leave(self) -> None:
        """Leave the review."""
        self.exit()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Return every action by name, for the command palette."""
        for binding in self.BINDINGS:
            if isinstance(binding, Binding) and binding.key != "ctrl+q":
                action = binding.action
                yield SystemCommand(
                    binding.description,
                    f"key {binding.key_display or binding.key}",
                    lambda action=action: self.run_worker(self.run_action(action)),
                )

    def _begin_reading(self) -> None:
        sitting = self.desk.now
        if sitting.measured or (self.reading.busy and self._reading_of is sitting):
            return
        if sitting.session.recordings and sitting.pitches:
            self._reading_of, sitting.trouble = sitting, ""
            self.reading.start(lambda tell: _read(sitting, tell), sitting.take_trouble)
            self._tell_shares()

    def _tell_shares(self) -> None:
        for sitting in self.desk.sittings:
            sitting.share = self.reading.share if sitting is self._reading_of else None
        self.desk.writing = self.writing.share


def _read(sitting: Sitting, tell: Progress) -> Settle:
    session = sitting.session
    own = session.result is not None
    measured = measure(
        session,
        settings=session.settings if own else None,
        layout=session.layout if own else None,
        progress=tell,
    )
    traces = {p.record.number: p.traces for p in measured.pitches}
    return lambda: sitting.take_curves(traces, measured.sentences)
