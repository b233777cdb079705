"""Questions of the review: one of a list, several of a list, a pitch's number, a file's name."""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Input, OptionList
from textual.widgets.option_list import Option

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
    """Choose several from a list; the order in which they were chosen is kept."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "turn", "Choose", priority=True),
        Binding("enter", "take", "Take them", priority=True),
    ]

    def __init__(
        self, title: str, options: Sequence[tuple[str, str]], chosen: Sequence[str]
    ) -> None:
        super().__init__(title, "Space: choose   Enter: take them")
        self._options = options
        self._chosen = list(chosen)

    def compose_question(self) -> ComposeResult:
        """The list; what is chosen has a sign and its place."""
        yield OptionList(*(Option(self._line(key, text)) for key, text in self._options))

    def on_mount(self) -> None:
        """Give the keys to the list."""
        options = self.query_one(OptionList)
        options.highlighted = 0
        options.focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Choose what was clicked, or choose it no longer."""
        self._turn(event.option_index)

    def action_turn(self) -> None:
        """Choose what is under the cursor, or choose it no longer."""
        at = self.query_one(OptionList).highlighted
        if at is not None:
            self._turn(at)

    def action_take(self) -> None:
        """Take what is chosen."""
        if self._chosen:
            self.dismiss(tuple(self._chosen))
        else:
            self.say_wrong("Choose at least one.")

    def _turn(self, at: int) -> None:
        key = self._options[at][0]
        if key in self._chosen:
            self._chosen.remove(key)
        else:
            self._chosen.append(key)
        options = self.query_one(OptionList)
        # The places of those behind it have changed too.
        for index, (each, text) in enumerate(self._options):
            options.replace_option_prompt_at_index(index, self._line(each, text))

    def _line(self, key: str, text: str) -> Content:
        place = f"✓ {self._chosen.index(key) + 1:>2}" if key in self._chosen else "    "
        return Content(f"{place}  {text}")


class PitchDialog(Dialog[int]):
    """Asks for the number of a pitch; only one of ``numbers`` is taken."""

    def __init__(self, numbers: Collection[int], seen: Collection[int]) -> None:
        super().__init__("Go to which pitch?", "Enter: go there")
        self._numbers = numbers
        self._seen = seen

    def compose_question(self) -> ComposeResult:
        """A number."""
        yield Input(placeholder="its number", type="integer")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the number, or say why there is no such row."""
        text = event.value.strip()
        number = int(text) if text.isdecimal() else None
        if number is None or number not in self._numbers:
            self.say_wrong(f"There is no pitch {text}." if text else "Type a pitch's number.")
        elif number not in self._seen:
            self.say_wrong(f"Pitch {number} is not among those selected (p, f).")
        else:
            self.dismiss(number)


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
