"""Questions of the review: one of a list, several of a list, a file's name."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Input, SelectionList
from textual.widgets.option_list import Option
from textual.widgets.selection_list import Selection

from tui.screens.dialogs import Choice, Dialog


class Pick(Choice):
    """Choose from a list; typing narrows it, and only what is on it can be chosen."""

    def __init__(
        self, title: str, options: Sequence[tuple[str, str]], current: str | None = None
    ) -> None:
        super().__init__(title, options, "type to find", 80, current)
        self._known = {f"={value}" for value, _ in options}

    def _take(self, option: Option) -> None:
        if option.id in self._known:
            super()._take(option)
        else:
            self.say_wrong("That is not on the list.")


class PickSeveral(Dialog[tuple[str, ...]]):
    """Choose several from a list, in the list's order."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "Take them", priority=True),
    ]

    def __init__(
        self, title: str, options: Sequence[tuple[str, str]], chosen: Sequence[str]
    ) -> None:
        super().__init__(title, "Space: choose   Enter: take them")
        self._options = options
        self._chosen = tuple(chosen)

    def compose_question(self) -> ComposeResult:
        """The list, chosen ones crossed."""
        yield SelectionList[str](
            *(Selection(Content(text), key, key in self._chosen) for key, text in self._options)
        )

    def on_mount(self) -> None:
        """Give the keys to the list."""
        self.query_one(SelectionList).focus()

    def action_take(self) -> None:
        """Take what is chosen: what was shown before keeps its place, new ones follow."""
        now = set(self.query_one(SelectionList).selected)
        kept = [key for key in self._chosen if key in now]
        new = [key for key, _ in self._options if key in now and key not in kept]
        if kept or new:
            self.dismiss((*kept, *new))
        else:
            self.say_wrong("Choose at least one.")


class FileDialog(Dialog[Path]):
    """Asks for the name of a new file; one that is there already is not written over."""

    def __init__(self, title: str, name: str) -> None:
        super().__init__(title, "Enter: write it")
        self._name = name

    def compose_question(self) -> ComposeResult:
        """A path."""
        yield Input(self._name, placeholder="file name, or a path")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the path if a file can be made there."""
        text = event.value.strip()
        path = Path(text).expanduser()
        if not text or path.is_dir():
            self.say_wrong("Give the name of a file.")
        elif path.exists() or path.is_symlink():
            self.say_wrong("There is a file of that name; give another.")
        elif not path.absolute().parent.is_dir():
            self.say_wrong("There is no such folder.")
        elif not os.access(path.absolute().parent, os.W_OK):
            self.say_wrong("You may not write in that folder.")
        else:
            self.dismiss(path)
