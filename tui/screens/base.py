"""What both main screens have in common: feed line and message line above, keys below."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.geometry import Size
from textual.screen import Screen

from tui import present
from tui.board import Pulled
from tui.widgets.key_line import KeyLine
from tui.widgets.line_text import LineText, Runs

if TYPE_CHECKING:
    from tui.app import MoundfeedApp

EVERYTHING = Pulled(snapshot=True, session=True)
#: Rows of the message line by the terminal's height, where no sentence needs more; else 1.
_ROWS = {"-tall": 3, "-medium": 2}


class MoundScreen(Screen[None]):
    """A screen fed from the board.

    It holds its widgets itself: while the program closes, the timer may still
    draw on one that has left the tree, which harms nothing.
    """

    def __init__(self) -> None:
        super().__init__()
        self._feed = LineText("feed")
        self._message = LineText("message")

    @property
    def mound(self) -> MoundfeedApp:
        """The app with the board."""
        return cast("MoundfeedApp", self.app)

    def compose(self) -> ComposeResult:
        """Lay out the lines that every screen has."""
        yield self._feed
        yield self._message
        yield from self.compose_body()
        yield KeyLine()

    def redraw(self, pulled: Pulled) -> None:
        """Draw what changed."""
        if not self.is_mounted:
            return  # the first size is told before there is anything to draw on
        self._feed.show([self.mound.feed_line(self._feed.size.width)])
        self._say()
        self.redraw_body(pulled)

    def _say(self) -> None:
        """Write the message line; a sentence that needs more rows takes them from what is below."""
        least = self.rows_by_height(_ROWS, 1)
        lines = self.message_lines(Size(self._message.size.width, least))
        rows = max(least, len(lines))
        if self._message.size.height != rows:
            self._message.styles.height = rows
        self._message.show(lines)

    def rows_by_height(self, rows: Mapping[str, int], short: int) -> int:
        """Return which of ``rows`` holds at the terminal's height; ``short`` where none does."""
        return next((n for name, n in rows.items() if self.has_class(name)), short)

    def message_lines(self, size: Size) -> list[Runs]:
        """Return what stands below the feed line, where ``size`` is usually free for it."""
        return present.message_lines(self.mound.board, self.mound.units, size)

    def on_screen_resume(self) -> None:
        """Draw everything when the screen comes up."""
        self.call_after_refresh(self.redraw, EVERYTHING)

    def on_resize(self) -> None:
        """Draw everything at the new size."""
        self.call_after_refresh(self.redraw, EVERYTHING)

    @abstractmethod
    def compose_body(self) -> ComposeResult:
        """Lay out what is the screen's own."""

    @abstractmethod
    def redraw_body(self, pulled: Pulled) -> None:
        """Draw what changed of it."""
