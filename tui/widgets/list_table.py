"""A table for looking at: a cursor, marked rows, headings to click, drawn by the line interface."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual.binding import Binding, BindingType
from textual.events import Click
from textual.geometry import Size
from textual.message import Message
from textual.strip import Strip

from tui.safe_text import ELLIPSIS
from tui.widgets.headed_rows import HEAD_ROWS, Column, HeadedRows

#: Signs before a row: cursor, mark.
_BEFORE = 3


@dataclass(frozen=True, slots=True)
class Entry:
    """A row: cells, or one text over all columns; a ``key`` of None cannot be chosen.

    ``mark`` has at most two characters.
    """

    key: str | None
    cells: tuple[str, ...] = ()
    style: str = "ink"
    text: str = ""
    mark: str = ""


class ListTable(HeadedRows, can_focus=True, inherit_bindings=False):
    """Shows :class:`Entry` rows under two rows of headings; says what was chosen or clicked.

    It never scrolls sideways: the keys for that are left to whoever it stands beside.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "list--head",
        "list--ink",
        "list--bold",
        "list--quiet",
        "list--void",
        "list--apart",
        "list--chosen",
        "list--mark",
    }
    DEFAULT_CSS = """
    ListTable {
        background: $background; scrollbar-size-vertical: 1; scrollbar-size-horizontal: 0;
        & > .list--head { color: $ink; background: $panel; text-style: bold; }
        & > .list--ink { color: $ink; }
        & > .list--bold { color: $ink; text-style: bold; }
        & > .list--quiet { color: $quiet; }
        & > .list--void { color: $quiet; text-style: strike; }
        & > .list--apart { color: $ink; text-style: bold; }
        & > .list--chosen { background: $chosen; }
        & > .list--mark { color: $mark; text-style: bold; }
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "Row above", show=False),
        Binding("down", "step(1)", "Row below", show=False),
        Binding("pageup", "page(-1)", "A page up", show=False),
        Binding("pagedown", "page(1)", "A page down", show=False),
        Binding("home", "end_of(-1)", "First row", show=False),
        Binding("end", "end_of(1)", "Last row", show=False),
    ]

    class Chosen(Message):
        """A row was chosen."""

        def __init__(self, table: ListTable, key: str) -> None:
            super().__init__()
            self.table = table
            self.key = key

    class HeadClicked(Message):
        """The heading of a column was clicked."""

        def __init__(self, table: ListTable, column: int) -> None:
            super().__init__()
            self.table = table
            self.column = column

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self._columns: tuple[Column, ...] = ()
        self._entries: tuple[Entry, ...] = ()
        self._chosen: str | None = None
        self._empty: tuple[str, ...] = ()

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The rows."""
        return self._entries

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns."""
        return self._columns

    @property
    def chosen(self) -> str | None:
        """The key of the row under the cursor."""
        return self._chosen

    def show(
        self,
        columns: Sequence[Column],
        entries: Sequence[Entry],
        chosen: str | None,
        empty: Sequence[str] = (),
    ) -> None:
        """Show rows; ``empty`` says what to do where there are none."""
        now = (tuple(columns), tuple(entries), chosen, tuple(empty))
        if now == (self._columns, self._entries, self._chosen, self._empty):
            return
        moved = chosen != self._chosen or now[1] != self._entries
        self._columns, self._entries, self._chosen, self._empty = now
        self.virtual_size = Size(self.size.width, len(self._entries) + HEAD_ROWS)
        self.refresh()
        if moved:
            self.call_after_refresh(self._bring_into_view)

    def point_at(self, key: str) -> None:
        """Put the cursor on a row."""
        self.show(self._columns, self._entries, key, self._empty)

    def action_step(self, step: int) -> None:
        """Move the cursor by so many rows."""
        keys = [e.key for e in self._entries if e.key is not None]
        if not keys:
            return
        if self._chosen not in keys:
            self._choose(keys[0])
            return
        at = keys.index(self._chosen) + step
        self._choose(keys[max(0, min(at, len(keys) - 1))])

    def action_page(self, step: int) -> None:
        """Move the cursor by a page."""
        self.action_step(step * max(1, self.size.height - HEAD_ROWS - 1))

    def action_end_of(self, step: int) -> None:
        """Move the cursor to the first or last row."""
        self.action_step(step * len(self._entries))

    def on_resize(self) -> None:
        """Keep the cursor in sight."""
        self.call_after_refresh(self._bring_into_view)

    def on_click(self, event: Click) -> None:
        """Choose the row under the mouse, or tell of the heading."""
        if event.y < HEAD_ROWS:
            column = self._column_at(event.x)
            if column is not None:
                self.post_message(self.HeadClicked(self, column))
            return
        row = event.y + self.scroll_offset.y - HEAD_ROWS
        if 0 <= row < len(self._entries):
            key = self._entries[row].key
            if key is not None:
                self._choose(key)

    def render_line(self, y: int) -> Strip:
        """Draw row ``y`` of what is in sight; the headings stay."""
        # The scroll bar covers the last column of the whole size.
        width = self.scrollable_content_region.width
        if y < HEAD_ROWS:
            heads = tuple(c.head if y == 0 else c.unit for c in self._columns)
            return self._strip(" " * _BEFORE + self._cells(heads), "head", width)
        if not self._entries:
            line = y - HEAD_ROWS - 1
            text = self._empty[line] if 0 <= line < len(self._empty) else ""
            return self._strip(" " + text, "ink", width)
        row = y - HEAD_ROWS + self.scroll_offset.y
        if row >= len(self._entries):
            return self._strip("", "ink", width)
        entry = self._entries[row]
        chosen = entry.key is not None and entry.key == self._chosen
        body = entry.text or self._cells(entry.cells)
        return self._row(entry, body, width, chosen)

    def _row(self, entry: Entry, body: str, width: int, chosen: bool) -> Strip:
        look = self.get_component_rich_style(f"list--{entry.style}")
        mark = self.get_component_rich_style("list--mark")
        # The signs are never struck out with a void row.
        plain = self.get_component_rich_style("list--ink")
        if chosen:
            ground = self.get_component_rich_style("list--chosen")
            look, mark, plain = look + ground, mark + ground, plain + ground
        before = [Segment("▶" if chosen else " ", plain), Segment(f"{entry.mark:<2}", mark)]
        used = sum(cell_len(s.text) for s in before)
        fitted = _fitted(body, width - used)
        if entry.style != "void":
            return Strip([*before, Segment(fitted, look)], width)
        # What is struck out is the words, not the space between them.
        words = [Segment(part, plain if part.isspace() else look) for part in _parts(fitted)]
        return Strip([*before, *words], width)

    def _cells(self, cells: tuple[str, ...]) -> str:
        parts = []
        for column, cell in zip(self._columns, cells, strict=True):
            text = cell.rjust(column.width) if column.right else cell
            parts.append(_fitted(text, column.width))
        return " ".join(parts)

    def _strip(self, text: str, style: str, width: int) -> Strip:
        look = self.get_component_rich_style(f"list--{style}")
        return Strip([Segment(_fitted(text, width), look)], width)

    def _column_at(self, x: int) -> int | None:
        start = _BEFORE
        for index, column in enumerate(self._columns):
            if start <= x <= start + column.width:
                return index
            start += column.width + 1
        return None

    def _choose(self, key: str) -> None:
        if key != self._chosen:
            self.post_message(self.Chosen(self, key))

    def _bring_into_view(self) -> None:
        for row, entry in enumerate(self._entries):
            if entry.key is not None and entry.key == self._chosen:
                self.show_row(row)
                return


def _parts(text: str) -> list[str]:
    """Return the words of ``text`` and the space between them, one after the other."""
    return re.findall(r"\s+|\S+", text)


def _fitted(text: str, width: int) -> str:
    """Return ``text`` in exactly ``width`` cells; what is cut ends in an ellipsis."""
    if cell_len(text) <= width:
        return set_cell_size(text, width)
    return set_cell_size(text, max(0, width - 1)) + ELLIPSIS if width > 0 else ""
