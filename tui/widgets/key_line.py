"""The keys of the screen at its foot, without those of screens and dialogs that are gone."""

from __future__ import annotations

from textual.widgets import Footer


class KeyLine(Footer):
    """The library's footer, without the palette's key, that keeps the keys which it shows only.

    The footer makes its keys anew with every dialog that comes or goes and
    ties each to its own ``compact``. The library unties those that are gone
    only when ``compact`` is set, and nobody ever sets it: every key that was
    ever shown would be kept, 15 kB each.
    """

    def __init__(self) -> None:
        super().__init__(show_command_palette=False, compact=True)

    async def recompose(self) -> None:
        """Make the keys anew and untie those that were there before."""
        await super().recompose()
        self.mutate_reactive(Footer.compact)
