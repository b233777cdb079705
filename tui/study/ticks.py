"""Things of which several may be taken: ✓ stands before those that are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets import OptionList


class TickList(OptionList):
    """A list in which enter, space or a click takes a thing or leaves it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("space", "select", show=False)]

    def __init__(self, things: Sequence[str], taken: Sequence[str], id: str) -> None:
        super().__init__(id=id, markup=False, compact=True)
        self._things = tuple(things)
        self._taken = set(taken)

    @property
    def taken(self) -> list[str]:
        """What is taken, in the order of the list."""
        return [thing for thing in self._things if thing in self._taken]

    def on_mount(self) -> None:
        """Fill the list; what is taken from the beginning is in sight."""
        self.add_options([self._shown(thing) for thing in self._things])
        if self._taken:
            self.highlighted = self._things.index(self.taken[0])

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take it, or leave it."""
        thing = self._things[event.option_index]
        self._taken ^= {thing}
        self.replace_option_prompt_at_index(event.option_index, self._shown(thing))

    def _shown(self, thing: str) -> str:
        return f"{'✓' if thing in self._taken else ' '} {thing}"
