"""Where the answer is to be written."""

from __future__ import annotations

from pathlib import Path

from textual.app import ComposeResult
from textual.widgets import Input

from tui.screens.dialogs import Dialog


class SaveDialog(Dialog[str]):
    """Asks for the name of the two files, without their endings."""

    def __init__(self, question: str) -> None:
        super().__init__("Write the page (.html) and the numbers (.json) as", "Enter: write")
        self._proposed = f"study-{question}"

    def compose_question(self) -> ComposeResult:
        """A name, in this folder or another."""
        yield Input(self._proposed)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the name, but not over a file that is there."""
        stem = event.value.strip().removesuffix(".html")
        there = [name for name in (f"{stem}.html", f"{stem}.json") if Path(name).exists()]
        if not stem:
            self.say_wrong("A name is needed.")
        elif there:
            self.say_wrong(f"{there[0]} is there already; give another name.")
        else:
            self.dismiss(stem)
