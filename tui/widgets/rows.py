"""A widget that is given whole rows and draws again only those that differ."""

from __future__ import annotations

from collections.abc import Sequence

from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget


def that_fit(parts: Sequence[str], width: int, joint: str) -> str:
    """Return the first of ``parts`` that fit into ``width`` characters, joined."""
    text = parts[0]
    for part in parts[1:]:
        if len(text) + len(joint) + len(part) > width:
            break
        text = f"{text}{joint}{part}"
    return text


class RowsWidget(Widget):
    """Shows the rows it was given last; what lies beyond them is blank."""

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self._rows: list[Strip] = []

    @property
    def text(self) -> str:
        """What is shown, without styles."""
        return "\n".join(strip.text for strip in self._rows)

    def notify_style_update(self) -> None:
        """Colours may have changed: draw anew as soon as those of the parts have changed too."""
        super().notify_style_update()
        self.call_later(self.draw)

    def draw(self) -> None:
        """Draw what was shown last in the colours and at the size of now."""
        raise NotImplementedError

    def put(self, rows: Sequence[Strip]) -> None:
        """Show ``rows``."""
        old, self._rows = self._rows, list(rows)
        width = self.size.width
        if len(old) != len(rows):
            self.refresh()
            return
        changed = [
            Region(0, y, width, 1)
            for y, (before, now) in enumerate(zip(old, rows, strict=True))
            if before != now
        ]
        if changed:
            self.refresh(*changed)

    def render_line(self, y: int) -> Strip:
        """Draw row ``y``."""
        width = self.size.width
        if y >= len(self._rows):
            return Strip.blank(width, self.rich_style)
        return self._rows[y].adjust_cell_length(width, self.rich_style)
