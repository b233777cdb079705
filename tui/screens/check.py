"""The guided set-up check: what to do now, the deck with the marked spot, what was found."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.geometry import Size

from stream.layout import Layout
from tui.board import Pulled
from tui.check_words import found_lines, idle_lines, step_lines, waiting_lines
from tui.notices import DEMO_NOTICE
from tui.plots import health_plots
from tui.screens.base import EVERYTHING, MoundScreen
from tui.urgent import urgent_lines
from tui.widgets.deck_plan import DeckPlan
from tui.widgets.line_text import LineText, Runs
from tui.widgets.strips import RunningPlots

#: Rows of the guide by the terminal's height, where it has room; so many rows stay for the rest.
_GUIDE = {"-tall": 34, "-medium": 22}
_GUIDE_SHORT = 12
_LEAST_FOUND = 7


class CheckScreen(MoundScreen):
    """Shows the set-up check that runs, or the last one made."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "app.check_take", "Take now"),
        Binding("s", "app.check_skip", "Skip"),
        Binding("b", "app.check_back", "Back"),
        Binding("n", "app.check_new", "New check"),
        Binding("escape", "app.check_leave", "Leave"),
        Binding("up", "scroll_found(-1)", "Scroll", key_display="↑↓"),
        Binding("down", "scroll_found(1)", show=False),
    ]

    def __init__(self, layout: Layout | None) -> None:
        super().__init__()
        self._guide = Horizontal(id="guide")
        self._do = LineText("do")
        self._plan = DeckPlan("checkplan", layout)
        self._health = RunningPlots("checkhealth")
        self._found = LineText("found")
        self._scroll = VerticalScroll(self._found, id="results", can_focus=False)

    def compose_body(self) -> ComposeResult:
        """Steps and plan above, what was found below."""
        with self._guide:
            yield self._do
            with Vertical(id="beside"):
                yield self._plan
                yield self._health
        yield self._scroll

    def message_lines(self, size: Size) -> list[Runs]:
        """Return what is wrong with the feed or the monitor, else nothing: the steps are below."""
        return urgent_lines(self.mound.board.sentences, self.mound.units, size.width, "ink")

    def redraw_body(self, pulled: Pulled) -> None:
        """Draw the check of now."""
        snapshot, units = self.mound.board.snapshot, self.mound.units
        if snapshot is None:
            self._do.show(waiting_lines(self.mound.board.sentences, units, self._do.size.width))
            return
        if not (pulled.snapshot or pulled == EVERYTHING):
            return
        now = snapshot.checking
        self._plan.show(snapshot.platforms, units, None if now is None else now.at_m)
        self._health.show(health_plots(self.mound.board.history, snapshot, units))
        width = self._do.size.width
        if now is not None:
            self._tell(step_lines(now, units, width))
            found = found_lines(now.found, units, self._found.size.width)
        else:
            made = snapshot.checked
            self._tell(idle_lines(made, width, self.mound.notice == DEMO_NOTICE))
            wide = self._found.size.width
            found = [] if made is None else found_lines(made.found, units, wide)
        self._fill(found)

    def action_scroll_found(self, step: int) -> None:
        """Move through what was found."""
        self._scroll.scroll_relative(y=step, animate=False)

    def _tell(self, lines: list[Runs]) -> None:
        """Show what is to be done; where that has no room, what was found gives up some rows."""
        most = self.size.height - _LEAST_FOUND
        rows = max(self.rows_by_height(_GUIDE, _GUIDE_SHORT), min(len(lines), most))
        if self._guide.size.height != rows:
            self._guide.styles.height = rows
        self._do.show(lines)

    def _fill(self, lines: list[Runs]) -> None:
        if self._found.size.height != len(lines):
            self._found.styles.height = max(1, len(lines))
        self._found.show(lines)
