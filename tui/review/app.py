"""The review: stored sessions on the screen, driven by keys, mouse and the command palette."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar

from textual.app import SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

from analysis.curves import Component
from analysis.sessions.measured import measure
from analysis.sessions.stored import StoredSession
from tui import palette
from tui.review.asking import Asking
from tui.review.days import DaysScreen
from tui.review.deck_view import Seen
from tui.review.desk import Desk, Sitting, Span
from tui.review.help import PARTS
from tui.review.job import Job, Progress, Settle
from tui.review.pitch_table import column_key
from tui.review.screen import Pane, ReviewScreen
from tui.screens.help import HelpScreen
from tui.units import Units
from tui.widgets.list_table import ListTable
from tui.widgets.stacked_traces import StackedTraces

_HEIGHTS = [(0, "-short"), (32, "-medium"), (50, "-tall")]
_WIDTHS = [(0, "-narrow"), (110, "-wide"), (180, "-broad")]
_POLLS_PER_S = 5.0


class ReviewApp(Asking):
    """Screens over a :class:`tui.review.desk.Desk`. ``clock`` stamps changes, ns."""

    TITLE = "moundfeed review"
    CSS_PATH = "review.tcss"
    VERTICAL_BREAKPOINTS = _HEIGHTS
    HORIZONTAL_BREAKPOINTS = _WIDTHS
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("1", "pane('pitches')", "Table"),
        Binding("2", "pane('metrics')", "Metrics"),
        Binding("3", "pane('traces')", "Curves"),
        Binding("4", "pane('deck')", "Deck"),
        Binding("5", "days", "Days"),
        Binding("p", "pitcher", "Whose"),
        Binding("f", "which", "Which"),
        Binding("v", "void", "Void"),
        Binding("question_mark", "help", "Help", key_display="?"),
        Binding("q", "leave", "Quit"),
        Binding("ctrl+q", "leave", "Quit", show=False, priority=True),
        Binding("o", "order", "Order of the table", show=False),
        Binding("k", "columns", "Columns of the table", show=False),
        Binding("space", "mark", "Lay the pitch over the curves", show=False),
        Binding("x", "unmark", "Take all pitches off the curves", show=False),
        Binding("c", "component", "Component of the force, or all", show=False),
        Binding("b", "band", "Mean and band of the pitcher's pitches", show=False),
        Binding("m", "newtons", "Per cent of body weight, or force", show=False),
        Binding("z", "zoom", "Other stretch of time; deck or one foot", show=False),
        Binding("n", "note", "Note on the pitch", show=False),
        Binding("s", "speed", "Enter the ball speed", show=False),
        Binding("a", "assign", "Assign the pitch to another pitcher", show=False),
        Binding("u", "undo", "Take the last change back", show=False),
        Binding("w", "write", "Write a report, an export or a CSV file", show=False),
        Binding("y", "copy", "Copy to the clipboard", show=False),
        Binding("left", "moment(-1)", "Time cursor one sample back", show=False),
        Binding("right", "moment(1)", "Time cursor one sample on", show=False),
        Binding("shift+left", "event(-1)", "Time cursor to the event before", show=False),
        Binding("shift+right", "event(1)", "Time cursor to the next event", show=False),
        Binding("left_square_bracket", "step(-1)", "Pitch above", show=False, key_display="["),
        Binding("right_square_bracket", "step(1)", "Pitch below", show=False, key_display="]"),
        Binding("e", "sentences", "What the recordings say of themselves", show=False),
        Binding("g", "read", "Read the recordings for curves", show=False),
        Binding("escape", "stop", "Stop reading or writing", show=False),
        Binding("comma", "session(-1)", "Session before", show=False, key_display=","),
        Binding("full_stop", "session(1)", "Next session", show=False, key_display="."),
        Binding("t", "units", "SI or US units", show=False),
        Binding("l", "look", "Light or dark", show=False),
    ]

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
        for known in palette.LOOKS.values():
            self.register_theme(palette.theme(known))
        self.theme = palette.theme(palette.LOOKS[look]).name

    @property
    def main(self) -> ReviewScreen | None:
        """The review's screen, whatever lies over it."""
        return next((s for s in self.screen_stack if isinstance(s, ReviewScreen)), None)

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
        dark = self.current_theme.dark
        self.theme = palette.theme(palette.LIGHT if dark else palette.DARK).name
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
            self.notify("No more can be told apart; x takes all off.", markup=False)
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

    # Curves

    def action_component(self) -> None:
        """Draw the next component of the force; after the last one all of them."""
        order: list[Component | None] = [None, *Component]
        self.desk.component = order[(order.index(self.desk.component) + 1) % len(order)]
        self.redraw()

    def action_band(self) -> None:
        """Show or hide mean and band."""
        self.desk.band = not self.desk.band
        self.redraw()

    def action_newtons(self) -> None:
        """Change between per cent of body weight and force."""
        self.desk.newtons = not self.desk.newtons
        self.redraw()

    def action_zoom(self) -> None:
        """Show another stretch of time; where the deck stands alone, another part of it."""
        main = self.main
        if main is not None and main.pane is Pane.DECK and not main.has_class("-broad"):
            seen = list(Seen)
            main.seen = seen[(seen.index(main.seen) + 1) % len(seen)]
            main.turn_to(Pane.DECK)
            return
        spans = list(Span)
        self.desk.span = spans[(spans.index(self.desk.span) + 1) % len(spans)]
        self.redraw()

    def action_moment(self, by: int) -> None:
        """Move the time cursor by samples."""
        traces = self.desk.shown_traces
        if traces is not None:
            self.desk.move(by / traces.rate_hz)
            self._redraw_moment()

    def action_event(self, by: int) -> None:
        """Move the time cursor to an event of the pitch."""
        self.desk.to_event(by)
        self._redraw_moment()

    def on_stacked_traces_moment(self, message: StackedTraces.Moment) -> None:
        """Put the time cursor where the mouse is."""
        self.desk.moment_s = message.moment_s
        self._redraw_moment()

    def _redraw_moment(self) -> None:
        if self.main is not None:
            self.main.redraw_moment()

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
