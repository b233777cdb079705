"""What tables have in common: two rows of headings that stay while the rows scroll."""

from __future__ import annotations

from dataclasses import dataclass

from textual.scroll_view import ScrollView

#: Names and units of the columns.
HEAD_ROWS = 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, its unit, its width, whether its cells stand at the right."""

    head: str
    unit: str
    width: int
    right: bool = True


class HeadedRows(ScrollView):
    """Rows under :data:`HEAD_ROWS` rows of headings."""

    def show_row(self, row: int) -> None:
        """Scroll as little as brings ``row`` (0: the first below the headings) into sight."""
        top, room = self.scroll_offset.y, self.size.height - HEAD_ROWS
        if row < top:
            self.scroll_to(y=row, animate=False)
        elif row >= top + room:
            self.scroll_to(y=row - room + 1, animate=False)
