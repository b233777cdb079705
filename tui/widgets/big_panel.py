"""One large answer: a heading, digits or a sign as tall as the panel, a line below."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from tui.widgets.big_digits import big_sign, big_text, rows_that_fit

TICK = "tick"
CROSS = "cross"


class Mood(StrEnum):
    """How a panel is drawn; its words say the same."""

    PLAIN = "plain"
    FADED = "faded"  # an older answer
    NOTED = "noted"  # its line below stands out
    STRONG = "strong"  # the whole panel stands out


@dataclass(frozen=True, slots=True)
class Answer:
    """What a panel shows.

    ``heads`` are headings, the longest first: the first that fits is shown.
    ``text`` is a number, :data:`TICK`, :data:`CROSS` or empty.
    """

    heads: tuple[str, ...]
    text: str
    foot: str
    mood: Mood = Mood.PLAIN
    head_style: str = "head"


class BigPanel(Widget):
    """Shows one :class:`Answer`."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "panel--ink",
        "panel--head",
        "panel--drive",
        "panel--lead",
        "panel--faded",
        "panel--strong",
        "panel--noted",
    }
    DEFAULT_CSS = """
    BigPanel {
        height: 1fr; width: 1fr;
        & > .panel--ink { color: $ink; text-style: bold; }
        & > .panel--head { color: $ink; text-style: bold; }
        & > .panel--drive { color: $drive; text-style: bold; }
        & > .panel--lead { color: $lead-text; text-style: bold; }
        & > .panel--faded { color: $quiet; }
        & > .panel--strong { color: $on-ground; background: $note-ground; text-style: bold; }
        & > .panel--noted { color: $on-ground; background: $note-ground; text-style: bold; }
    }
    """

    def __init__(self, answer: Answer, id: str) -> None:
        super().__init__(id=id)
        self._answer = answer
        self._rows = 0

    @property
    def answer(self) -> Answer:
        """What is shown now."""
        return self._answer

    def room(self, answer: Answer) -> int:
        """Return how many rows high the digits of ``answer`` could be here."""
        return rows_that_fit(answer.text, self.size.width, self.size.height - 2)

    def show(self, answer: Answer, rows: int) -> None:
        """Show another answer, its digits or sign at most ``rows`` high; the same costs nothing."""
        if (answer, rows) != (self._answer, self._rows):
            self._answer, self._rows = answer, rows
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw row ``y`` of the panel."""
        width, height = self.size
        answer = self._answer
        mood = answer.mood
        ground = "panel--strong" if mood is Mood.STRONG else ""
        if y == 0:
            head = next((h for h in answer.heads if cell_len(h) <= width), answer.heads[-1])
            return self._row(head, ground or f"panel--{answer.head_style}", width)
        if y == height - 1:
            foot = {Mood.NOTED: "panel--noted", Mood.FADED: "panel--faded"}.get(mood, "panel--ink")
            return self._row(answer.foot, ground or foot, width)
        lines = self._large(width, min(height - 2, self._rows))
        row = y - 1 - (height - 2 - len(lines)) // 2
        text = lines[row] if 0 <= row < len(lines) else ""
        # Numbers in their legs' colours: side by side they must never read as one.
        ink = "panel--faded" if mood is Mood.FADED else f"panel--{answer.head_style}"
        return self._row(text, ground or ink, width)

    def _large(self, width: int, height: int) -> tuple[str, ...]:
        text = self._answer.text
        if text in (TICK, CROSS):
            return big_sign(text == TICK, min(height, max(3, (width - 1) // 2)))
        rows = rows_that_fit(text, width, height) if text else 0
        if rows:
            return big_text(text, rows)
        return (text,)

    def _row(self, text: str, component: str, width: int) -> Strip:
        style = self.get_component_rich_style(component)
        space = max(0, width - cell_len(text))
        left = " " * (space // 2)
        return Strip([Segment(set_cell_size(left + text, width), style)], width)
