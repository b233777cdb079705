"""The session so far, newest first, drawn by Textual's line interface.

Cells are written once when the rows change; moving the cursor or a new
snapshot draws only the lines it touches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.cells import set_cell_size
from rich.segment import Segment
from textual.binding import Binding, BindingType
from textual.events import Click
from textual.geometry import Size
from textual.message import Message
from textual.strip import Strip

from tui.widgets.headed_rows import HEAD_ROWS, Column, HeadedRows


@dataclass(frozen=True, slots=True)
class Line:
    """A row: cells, or one text over all columns; ``number`` is None for what cannot be chosen."""

    number: int | None
    cells: tuple[str, ...]
    style: str = "ink"
    text: str = ""


class SessionTable(HeadedRows, can_focus=True):
    """Shows :class:`Line` rows; says which pitch was chosen."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "table--head",
        "table--ink",
        "table--quiet",
        "table--void",
        "table--apart",
        "table--chosen",
    }
    DEFAULT_CSS = """
    SessionTable {
        background: $background; scrollbar-size-vertical: 1; scrollbar-size-horizontal: 0;
        & > .table--head { color: $ink; background: $panel; text-style: bold; }
        & > .table--ink { color: $ink; }
        & > .table--quiet { color: $quiet; }
        & > .table--void { color: $quiet; text-style: strike; }
        & > .table--apart { color: $ink; text-style: bold; }
        & > .table--chosen { background: $chosen; }
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "newer", "Newer pitch", show=False),
        Binding("down", "older", "Older pitch", show=False),
        Binding("home,escape", "newest", "Newest pitch", show=False),
    ]

    class Chosen(Message):
        """A pitch was chosen; None means: follow the newest."""

        def __init__(self, number: int | None) -> None:
            super().__init__()
            self.number = number

    def __init__(self, id: str, empty: Sequence[str] = ()) -> None:
        super().__init__(id=id)
        self._columns: tuple[Column, ...] = ()
        self._lines: tuple[Line, ...] = ()
        self._chosen: int | None = None
        self._empty = tuple(empty)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The rows, newest first."""
        return self._lines

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns."""
        return self._columns

    def show(self, columns: Sequence[Column], lines: Sequence[Line], chosen: int | None) -> None:
        """Show rows; draws only what differs."""
        new_columns, new_lines = tuple(columns), tuple(lines)
        moved = chosen != self._chosen
        if new_columns == self._columns and new_lines == self._lines and not moved:
            return
        self._columns, self._lines, self._chosen = new_columns, new_lines, chosen
        self.virtual_size = Size(self.size.width, len(new_lines) + HEAD_ROWS)
        self.refresh()
        if moved:
            self.call_after_refresh(self._bring_into_view)

    def say(self, empty: Sequence[str]) -> None:
        """Say what to do while there is no row."""
        if tuple(empty) != self._empty:
            self._empty = tuple(empty)
            if not self._lines:
                self.refresh()

    def action_newer(self) -> None:
        """Choose the pitch above."""
        self._step(-1)

    def action_older(self) -> None:
        """Choose the pitch below."""
        self._step(1)

    def action_newest(self) -> None:
        """Follow the newest pitch."""
        self.post_message(self.Chosen(None))

    def on_click(self, event: Click) -> None:
        """Choose the pitch under the mouse."""
        row = event.y + self.scroll_offset.y - HEAD_ROWS
        if event.y >= HEAD_ROWS and 0 <= row < len(self._lines):
            number = self._lines[row].number
            if number is not None:
                self.post_message(self.Chosen(number))

    def render_line(self, y: int) -> Strip:
        """Draw row ``y`` of what is in sight; the heading stays."""
        width = self.size.width
        if y < HEAD_ROWS:
            heads = tuple(c.head if y == 0 else c.unit for c in self._columns)
            return self._strip("  " + self._cells(heads), "head", width)
        row = y - HEAD_ROWS + self.scroll_offset.y
        if not self._lines:
            text = self._empty[y - 3] if 3 <= y < len(self._empty) + 3 else ""
            return self._strip(" " + text, "quiet", width)
        if row >= len(self._lines):
            return self._strip("", "ink", width)
        line = self._lines[row]
        chosen = line.number is not None and line.number == self._chosen
        text = line.text or self._cells(line.cells)
        return self._strip(("▶ " if chosen else "  ") + text, line.style, width, chosen)

    def _cells(self, cells: tuple[str, ...]) -> str:
        parts = []
        for column, cell in zip(self._columns, cells, strict=True):
            text = cell.rjust(column.width) if column.right else cell
            parts.append(set_cell_size(text, column.width))
        return " ".join(parts)

    def _strip(self, text: str, style: str, width: int, chosen: bool = False) -> Strip:
        look = self.get_component_rich_style(f"table--{style}")
        if chosen:
            look += self.get_component_rich_style("table--chosen")
        return Strip([Segment(set_cell_size(text, width), look)], width)

    def _step(self, step: int) -> None:
        numbers = [line.number for line in self._lines if line.number is not None]
        if not numbers:
            return
        at = numbers.index(self._chosen) if self._chosen in numbers else 0
        at += step
        self.post_message(self.Chosen(None if at < 0 else numbers[min(at, len(numbers) - 1)]))

    def _bring_into_view(self) -> None:
        for row, line in enumerate(self._lines):
            if line.number is not None and line.number == self._chosen:
                self.show_row(row)
                return
