"""The review's screen: pitches at the left, curves and deck beside them, all metrics at the right.

Which of these stand side by side is a matter of room (``review.tcss``): one
at a time in a small terminal, two in a wide one, all in a broad one.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.containers import Container, Horizontal, Vertical
from textual.screen import Screen

from tui.review import deck_view
from tui.review.deck_view import Seen
from tui.review.desk import Desk
from tui.review.head import looked_at_line, session_line
from tui.review.metric_list import definition_lines, metric_list, pitch_lines
from tui.review.pitch_table import pitch_table
from tui.review.traces_view import TracesView, empty_words
from tui.units import Units
from tui.widgets.key_line import KeyLine
from tui.widgets.line_text import LineText, Runs
from tui.widgets.list_table import ListTable
from tui.widgets.pressure_path import PressurePath
from tui.widgets.stacked_traces import StackedTraces

if TYPE_CHECKING:
    from tui.review.app import ReviewApp

_NONE_SELECTED = ("No pitch is selected.", "p: whose pitches   f: which of them")
_NO_PITCHES = ("This session has no pitch.", "q leaves; another folder: moundfeed review DIR")


class Pane(StrEnum):
    """What a small terminal shows alone, and what the keys of the rows act on."""

    PITCHES = "pitches"
    METRICS = "metrics"
    TRACES = "traces"
    DECK = "deck"


class ReviewScreen(Screen[None]):
    """Shows one session."""

    def __init__(self) -> None:
        super().__init__()
        self.pane = Pane.PITCHES
        self.seen = Seen.DECK
        self.view = TracesView()
        self._session = LineText("session_line")
        self._looked_at = LineText("looked_at")
        self.pitches = ListTable("pitches")
        self.traces = StackedTraces("traces")
        self._values = LineText("values")
        self._paths = {
            Seen.DECK: PressurePath("deck_path"),
            Seen.DRIVE: PressurePath("drive_path"),
            Seen.LEAD: PressurePath("lead_path"),
        }
        self._legend = LineText("legend")
        self._about = LineText("about")
        self.metrics = ListTable("metrics")
        self._definition = LineText("definition")
        self.left_out = 0

    @property
    def review(self) -> ReviewApp:
        """The app with the desk."""
        return cast("ReviewApp", self.app)

    def compose(self) -> ComposeResult:
        """Lay out every pane; the style sheet shows those that have room."""
        yield self._session
        yield self._looked_at
        with Horizontal(id="body"):
            yield self.pitches
            with Vertical(id="seen"):
                with Vertical(id="traces_pane"):
                    yield self.traces
                    yield self._values
                with Container(id="deck_pane"):
                    with Vertical(id="whole"):
                        yield self._paths[Seen.DECK]
                        yield self._legend
                    with Vertical(id="feet"):
                        yield self._paths[Seen.DRIVE]
                        yield self._paths[Seen.LEAD]
            with Vertical(id="metrics_pane"):
                yield self._about
                yield self.metrics
                yield self._definition
        yield KeyLine()

    def on_mount(self) -> None:
        """Show the table."""
        self.turn_to(Pane.PITCHES)

    def on_screen_resume(self) -> None:
        """Draw everything when the screen comes up."""
        self.call_after_refresh(self.redraw)

    def on_resize(self) -> None:
        """Draw everything at the new size."""
        self.call_after_refresh(self.redraw)

    def turn_to(self, pane: Pane) -> None:
        """Show a pane, and give it the keys of the rows where it has rows."""
        self.pane = pane
        for other in Pane:
            self.set_class(other is pane, f"-{other.value}")
        for seen in Seen:
            self.set_class(seen is self.seen, f"-see-{seen.value}")
        table = self.metrics if pane is Pane.METRICS else self.pitches
        if table.focusable:
            table.focus()
        self.call_after_refresh(self.redraw)

    def redraw(self) -> None:
        """Draw everything that is in sight."""
        if not self.is_mounted:
            return
        desk, units = self.review.desk, self.review.units
        width = self.pitches.size.width
        columns, entries, left_out = pitch_table(desk, units, width)
        self.left_out = left_out if width else 0
        empty = _NONE_SELECTED if desk.now.pitches else _NO_PITCHES
        chosen = None if desk.now.chosen is None else str(desk.now.chosen)
        self.pitches.show(columns, entries, chosen, empty)
        self.redraw_head()
        self._redraw_traces(desk, units)
        self._redraw_metrics(desk, units)
        self.redraw_moment()

    def redraw_head(self) -> None:
        """Draw the lines above."""
        desk, units = self.review.desk, self.review.units
        self._session.show([session_line(desk, units, self._session.size.width)])
        self._looked_at.show([looked_at_line(desk, self.left_out)])

    def redraw_moment(self) -> None:
        """Draw what the time cursor moves: values, pressure now."""
        desk, units = self.review.desk, self.review.units
        self.traces.show_cursor(desk.moment_s)
        rows = 10 if self.size.height >= 32 else 6
        lines = self.view.values(desk, units, rows)
        _fill(self._values, lines)
        sitting = desk.now
        for seen, path in self._paths.items():
            if path.size.width:
                shown = deck_view.pressure(desk, seen)
                quiet = ("no path",) if sitting.measured else ()
                empty = empty_words(sitting, units) if seen is self.seen else quiet
                path.show(shown, sitting.session.layout, units, empty)
        _fill(self._legend, deck_view.legend_lines(desk, units, self._legend.size.width))

    def _redraw_traces(self, desk: Desk, units: Units) -> None:
        self.traces.show(self.view.stack(desk, units), units, empty_words(desk.now, units))

    def _redraw_metrics(self, desk: Desk, units: Units) -> None:
        row = desk.shown
        width = self.metrics.size.width
        if row is None or not width:
            self.metrics.show((), (), None, _NO_PITCHES)
            _fill(self._about, [])
            _fill(self._definition, [])
            return
        _fill(self._about, pitch_lines(row, units, width))
        mates = desk.now.mates(row.record)
        columns, entries = metric_list(row, mates, units, width - 1)
        self.metrics.show(columns, entries, desk.metric)
        _fill(self._definition, definition_lines(desk.metric, row.record, width))


def _fill(widget: LineText, lines: list[Runs]) -> None:
    widget.styles.height = len(lines)
    widget.show(lines)
