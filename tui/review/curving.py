"""What the keys and the mouse do to the curves and the deck."""

from __future__ import annotations

from analysis.curves import Component
from tui.review.asking import Asking
from tui.review.deck_view import Seen
from tui.review.desk import Span
from tui.review.screen import Pane
from tui.widgets.stacked_traces import StackedTraces


class Curving(Asking):
    """The part of the review with curves and time cursor."""

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
