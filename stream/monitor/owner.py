"""A process that is of no use without the one that started it ends when that one is gone.

However the owner ends, kill -9 included, the system gives its children another
parent. A recorder of a session has no owner: it must outlive its screen.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable

LOOK_EVERY_S = 0.5


async def end_with(owner: int, stop: Callable[[], object]) -> None:
    """Call ``stop`` once when process ``owner``, which started this one, is gone."""
    while os.getppid() == owner:  # noqa: ASYNC110 - the system gives no event for it
        await asyncio.sleep(LOOK_EVERY_S)
    stop()
