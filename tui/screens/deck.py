"""The operator's screen: the deck to scale with its load, the feed's plots and facts."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll

from stream.layout import Layout
from tui.board import Pulled
from tui.check_words import made_lines
from tui.facts import facts, to_read
from tui.plots import health_plots, load_plots
from tui.screens.base import EVERYTHING, MoundScreen
from tui.widgets.deck_plan import DeckPlan
from tui.widgets.line_text import LineText, Runs
from tui.widgets.strips import RunningPlots


class DeckScreen(MoundScreen):
    """Shows what the mound is doing now."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("d", "app.other_screen", "Pitch")]

    def __init__(self, layout: Layout | None) -> None:
        super().__init__()
        self._layout = layout
        self._plan = DeckPlan("plan", layout)
        self._load = RunningPlots("load")
        self._health = RunningPlots("health")
        self._todo = LineText("todo")
        self._facts = LineText("facts")

    def compose_body(self) -> ComposeResult:
        """Plan and plots at the left, facts at the right."""
        with Horizontal(id="deck"):
            with Vertical(id="seen"):
                yield self._plan
                yield self._load
                yield self._health
            with VerticalScroll(id="told"):
                yield self._todo
                yield self._facts

    def on_mount(self) -> None:
        """Write the facts twice a second."""
        self.set_interval(0.5, self._write)

    def redraw_body(self, pulled: Pulled) -> None:
        """Draw the deck of now; words and the feed's plots too where all is drawn."""
        snapshot, units = self.mound.board.snapshot, self.mound.units
        if pulled.snapshot and snapshot is not None:
            self._plan.show(snapshot.platforms, units)
            self._load.show(load_plots(snapshot, units))
        if pulled == EVERYTHING:
            self._write()

    def _write(self) -> None:
        """Write sentences, facts and the feed's plots: nobody reads them ten times a second."""
        if not self.is_current:
            return
        snapshot, units = self.mound.board.snapshot, self.mound.units
        may_act = self.mound.board.link.may_act
        sentences = self.mound.board.sentences
        _fill(self._todo, to_read(sentences, may_act, units, self._todo.size.width))
        lines = facts(snapshot, self._layout, units, may_act)
        if snapshot is not None:
            lines += made_lines(snapshot.checked, may_act, units, self._facts.size.width)
            self._health.show(health_plots(self.mound.board.history, snapshot, units))
        _fill(self._facts, lines)


def _fill(widget: LineText, lines: list[Runs]) -> None:
    """Show ``lines`` and make the widget as high as they are many."""
    if widget.size.height != len(lines):
        widget.styles.height = len(lines)
    widget.show(lines)
