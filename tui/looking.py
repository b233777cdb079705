"""The screen of somebody who looks on: the same pictures, and no key that changes the session."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType

from tui.app import MoundfeedApp

#: Actions that change the screen and nothing else.
_HARMLESS = ("other_screen", "component", "units", "look", "help", "leave")
LOOKING = [b for b in MoundfeedApp.BINDINGS if isinstance(b, Binding) and b.action in _HARMLESS]


class LookingApp(MoundfeedApp, inherit_bindings=False):
    """A screen that only looks on. In a browser the page is closed instead of quitting."""

    BINDINGS: ClassVar[list[BindingType]] = [*LOOKING]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Tell whether ``action`` makes sense where this screen is shown."""
        if action == "leave" and self.is_web:
            return False
        return super().check_action(action, parameters)
