"""Telling somebody at the screen what came of a key: one sentence at a time, over no question."""

from __future__ import annotations

from textual.app import App
from textual.notifications import SeverityLevel

from tui.screens.dialogs import Dialog

#: A dialog is looked after so often, s.
_WAIT_S = 0.2


class Telling(App[None]):
    """The part of an app that tells."""

    def tell(
        self, text: str, severity: SeverityLevel = "information", timeout: float | None = None
    ) -> None:
        """Show ``text`` for a while (s), in place of what was shown before; wait for a dialog."""
        if isinstance(self.screen, Dialog):
            self.set_timer(_WAIT_S, lambda: self.tell(text, severity, timeout))
            return
        self.clear_notifications()
        self.notify(text, severity=severity, timeout=timeout, markup=False)
