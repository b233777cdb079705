"""The coach's screen: the last pitch in one glance, its curves, the session."""

from __future__ import annotations

from dataclasses import replace

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.containers import Horizontal

from analysis.baseline import SPEED
from analysis.curves import Component
from tui import present
from tui.board import Pulled
from tui.screens.base import EVERYTHING, MoundScreen
from tui.table import table
from tui.widgets.big_panel import Answer, BigPanel
from tui.widgets.line_text import LineText
from tui.widgets.session_table import SessionTable
from tui.widgets.traces import TracesPlot

#: The three numbers of a coach: metric, name, colour of its heading.
NUMBERS = (
    ("drive_peak_bw", "PUSH-OFF", "drive"),
    ("landing_peak_bw", "LANDING", "lead"),
    (SPEED, "BALL SPEED", "head"),
)
_NO_CURVES = "The curves of the pitch show here, both legs, with its events."
_NO_PITCH = ("No pitch yet.", "Each one gets a line here.")


class PitchScreen(MoundScreen):
    """Shows the newest pitch, or the one that was chosen in the table."""

    def __init__(self) -> None:
        super().__init__()
        blank = Answer(("",), "", "")
        self._component = Component.RESULTANT
        self._verdict = BigPanel(blank, "verdict")
        self._numbers = {key: BigPanel(blank, key) for key, _, _ in NUMBERS}
        self._sentence = LineText("sentence")
        self._curves = TracesPlot("curves", _NO_CURVES)
        self._session = SessionTable("session", _NO_PITCH)

    def compose_body(self) -> ComposeResult:
        """Numbers above; curves and table below."""
        with Horizontal(id="numbers"):
            yield self._verdict
            yield from self._numbers.values()
        yield self._sentence
        with Horizontal(id="lower"):
            yield self._curves
            yield self._session

    def on_mount(self) -> None:
        """Give the keys to the table."""
        self._session.focus()

    def redraw_body(self, pulled: Pulled) -> None:
        """Draw the pitch and the table when the session changed; a snapshot moves nothing here."""
        board, units = self.mound.board, self.mound.units
        self._sentence.show([present.plain_sentence(board, units)])
        if not pulled.session:
            return
        answers = {k: present.number(board, k, head, style, units) for k, head, style in NUMBERS}
        if any(cell_len(a.heads[0]) > self._numbers[k].size.width for k, a in answers.items()):
            # One unit, one way of writing it: where one has no room, all are short.
            answers = {k: replace(a, heads=a.heads[-1:]) for k, a in answers.items()}
        # Digits of one height: the panel with the least room decides.
        rows = [self._numbers[k].room(a) for k, a in answers.items() if a.text]
        rows_of_all = min(rows, default=self._verdict.size.height)
        self._verdict.show(present.verdict(board), rows_of_all)
        for key, answer in answers.items():
            self._numbers[key].show(answer, rows_of_all)
        view = board.shown_view
        empty = "Curves of so long ago are in the recording only." if view else _NO_CURVES
        plot = present.plot(view, self._component)
        self._curves.show(plot, units, empty)
        columns, lines = table(board, units, self._session.size.width)
        row = board.shown
        self._session.show(columns, lines, row.record.number if row else None)

    def on_session_table_chosen(self, message: SessionTable.Chosen) -> None:
        """Look at another pitch."""
        if self.mound.board.choose(message.number):
            self.redraw(EVERYTHING)

    def next_component(self) -> None:
        """Draw the next component of the force."""
        order = list(Component)
        self._component = order[(order.index(self._component) + 1) % len(order)]
        self.redraw(EVERYTHING)
