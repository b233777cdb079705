"""Memory of a screen that runs for hours: what is cast off is given back every quarter minute."""

from __future__ import annotations

import asyncio
import gc

from textual._styles_cache import StylesCache

EVERY_S = 15.0


async def tidy() -> None:
    """Tidy until cancelled."""
    while True:
        await asyncio.sleep(EVERY_S)
        give_back()


def give_back() -> None:
    """Give back the drawings that nothing shows any more."""
    # The library remembers two colours under the drawing for which they were asked first, for 1024
    # drawings: those of dialogs long gone are kept by it, 30 kB a dialog.
    StylesCache.get_inner_outer.cache_clear()
    # Left to itself the collector lets an hour's cast-off drawings, which are cycles, pile up.
    gc.collect()
