"""Asks for a time in a recording."""

from __future__ import annotations

import re

from textual.app import ComposeResult
from textual.widgets import Input

from stream.wire import NS
from tui.replay_words import clock
from tui.screens.dialogs import Dialog

_TIME = re.compile(r"([+-]?)(?:(?:([0-9]{1,3}):)?([0-9]{1,3}):)?([0-9]{1,6}(?:[.,][0-9]{1,3})?)\Z")


def read_place(text: str, now_ns: int) -> int:
    """Return the place, ns, that ``text`` names; ``+`` or ``-`` before it counts from ``now_ns``.

    Forms: seconds, minutes:seconds, hours:minutes:seconds. Raise ValueError for any other.
    """
    match = _TIME.match(text.strip())
    if match is None:
        raise ValueError(text)
    sign, hours, minutes, seconds = match.groups()
    length_s = 3600 * int(hours or 0) + 60 * int(minutes or 0) + float(seconds.replace(",", "."))
    length_ns = round(length_s * NS)
    if not sign:
        return length_ns
    return now_ns + length_ns if sign == "+" else now_ns - length_ns


class JumpDialog(Dialog[int]):
    """Answers with a place, ns from the beginning."""

    def __init__(self, now_ns: int, length_ns: int) -> None:
        super().__init__(
            f"Go to which time? (now {clock(now_ns)}, the end {clock(length_ns)})",
            "Enter: go there",
        )
        self._now_ns = now_ns

    def compose_question(self) -> ComposeResult:
        """A time."""
        yield Input(placeholder="12:30, or +30 and -30 from here", max_length=20)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Read the time."""
        try:
            self.dismiss(read_place(event.value, self._now_ns))
        except ValueError:
            self.say_wrong("Write minutes:seconds, for example 12:30; or +30 for 30 s on.")
