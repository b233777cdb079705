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
        self._told = VerticalScroll(id="told")
        self._more = LineText("more")
        self._written: tuple[object, ...] = ()

    def compose_body(self) -> ComposeResult:
        """Plan and plots at the left, facts at the right."""
        with Horizontal(id="deck"):
            with Vertical(id="seen"):
                yield self._plan
                yield self._load
                yield self._health
            with Vertical(id="beside_deck"):
                with self._told:
                    yield self._todo
                    yield self._facts
                yield self._more

    def on_mount(self) -> None:
        """Write the facts twice a second; the keys that scroll are theirs."""
        self.set_interval(0.5, self._write)
        self._told.focus()
        self.watch(self._told, "scroll_y", self._tell_more)

    def redraw_body(self, pulled: Pulled) -> None:
        """Draw the deck of now; words and the feed's plots too where all is drawn."""
        snapshot, units = self.mound.board.snapshot, self.mound.units
        if pulled.snapshot and snapshot is not None:
            self._plan.show(snapshot.platforms, units)
            self._load.show(load_plots(snapshot, units))
        if pulled == EVERYTHING or self._state() != self._written:
            self._write()

    def _state(self) -> tuple[object, ...]:
        """Return what the words must say as soon as the deck and the line above show it."""
        now, units = self.mound.board.snapshot, self.mound.units
        said = tuple(s.key for s in self.mound.board.sentences)
        if now is None:
            return said
        weight = units.quantity("N", now.body_weight_n)
        return (now.deck, now.pitcher, now.pitches, weight, *said)

    def _write(self) -> None:
        """Write sentences, facts and the feed's plots: nobody reads them ten times a second."""
        if not self.is_current:
            return
        self._written = self._state()
        snapshot, units = self.mound.board.snapshot, self.mound.units
        may_act = self.mound.board.link.may_act
        sentences, width = self.mound.board.sentences, self._facts.size.width
        checked = snapshot is not None and snapshot.checked is not None
        _fill(self._todo, to_read(sentences, checked, may_act, units, width))
        # What a monitor that is gone told last is known no more.
        gone = bool(self.mound.board.lost_say)
        lines = [] if gone else facts(snapshot, self._layout, units, may_act, width)
        if snapshot is not None and not gone:
            lines += made_lines(snapshot.checked, may_act, units, width)
            self._health.show(health_plots(self.mound.board.history, snapshot, units))
        _fill(self._facts, lines)
        self.call_after_refresh(self._tell_more)

    def _tell_more(self) -> None:
        """Say that there is more below where there is."""
        below = self._told.max_scroll_y > self._told.scroll_y
        self._more.show([[(" ▼ more below: ↓" if below else "", "bold")]])


def _fill(widget: LineText, lines: list[Runs]) -> None:
    """Show ``lines`` and make the widget as high as they are many."""
    if widget.size.height != len(lines):
        widget.styles.height = len(lines)
    widget.show(lines)
