"""A table of an answer as text that fits beside the question, whatever the room."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from textual.widgets import Static

from analysis.study.pages import Table

_BETWEEN = "  "


class TableText(Static):
    """Shows one table; columns that have no room stand below, beside the first one again."""

    def __init__(self, table: Table) -> None:
        super().__init__("", classes="table", markup=False)
        self._table = table
        self._room = 0

    def on_resize(self) -> None:
        """Fit the table to the new width."""
        if self.size.width != self._room:
            self._room = self.size.width
            self.update(aligned(self._table, self._room))


def aligned(table: Table, room: int) -> str:
    """Return a table as text at most ``room`` columns wide where its cells allow it.

    The first column stands at the left, the others at the right.
    """
    rows = [table.head, *table.rows]
    widths = [max(len(row[c]) for row in rows) for c in range(len(table.head))]
    parts = textwrap.wrap(table.caption, max(20, room)) or [""]
    for columns in _blocks(table.head, widths, room):
        parts += [
            _BETWEEN.join(
                row[c].rjust(widths[c]) if c else row[c].ljust(widths[c]) for c in (0, *columns)
            ).rstrip()
            for row in rows
        ]
        parts.append("")
    return "\n".join(parts[:-1])


def _blocks(head: Sequence[str], widths: Sequence[int], room: int) -> Iterator[list[int]]:
    """Yield the columns of each block beside the first column; an interval's ends stay together."""
    block: list[int] = []
    used = widths[0]
    for group in _groups(head):
        width = sum(len(_BETWEEN) + widths[c] for c in group)
        if block and used + width > room:
            yield block
            block, used = [], widths[0]
        block += group
        used += width
    if block or len(head) == 1:
        yield block


def _groups(head: Sequence[str]) -> Iterator[list[int]]:
    at = 1
    while at < len(head):
        pair = head[at].startswith("low") and head[at + 1 : at + 2] != []
        length = 2 if pair and head[at + 1].startswith("high") else 1
        yield list(range(at, at + length))
        at += length
