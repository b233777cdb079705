"""A few lines of plain text that redraw only when they change, each run with a style of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual.strip import Strip

from tui.widgets.rows import RowsWidget

#: Runs of one line: (text, name of its style).
Runs = Sequence[tuple[str, str]]


class LineText(RowsWidget):
    """Shows lines of runs; what does not fit at the right is cut with an ellipsis."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "text--ink",
        "text--bold",
        "text--quiet",
        "text--note",
        "text--alarm",
        "text--good",
        "text--drive",
        "text--lead",
    }
    DEFAULT_CSS = """
    LineText {
        height: 1;
        & > .text--ink { color: $ink; }
        & > .text--bold { color: $ink; text-style: bold; }
        & > .text--quiet { color: $quiet; }
        & > .text--note { color: $on-ground; background: $note-ground; text-style: bold; }
        & > .text--alarm { color: $on-ground; background: $alarm-ground; text-style: bold; }
        & > .text--good { color: $on-ground; background: $good-ground; text-style: bold; }
        & > .text--drive { color: $drive; text-style: bold; }
        & > .text--lead { color: $lead-text; text-style: bold; }
    }
    """

    def __init__(self, id: str) -> None:
        super().__init__(id)
        self._lines: list[tuple[tuple[str, str], ...]] = []
        self._width = 0

    def show(self, lines: Sequence[Runs]) -> None:
        """Show ``lines``."""
        new = [tuple(line) for line in lines]
        if new != self._lines or self.size.width != self._width:
            self._lines = new
            self.draw()

    def on_resize(self) -> None:
        """Fit the lines to the new width."""
        self.draw()

    def draw(self) -> None:
        """Draw the lines."""
        self._width = self.size.width
        self.put([self._line(line) for line in self._lines])

    def _line(self, line: Runs) -> Strip:
        segments: list[Segment] = []
        used = 0
        for text, style in line:
            room = self._width - used
            if room <= 0:
                break
            shown = text if cell_len(text) <= room else set_cell_size(text, room - 1) + "…"
            used += cell_len(shown)
            segments.append(Segment(shown, self.get_component_rich_style(f"text--{style}")))
        return Strip(segments, used)
