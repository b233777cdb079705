"""Ctrl-C at a moment that suits."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def held_back() -> Iterator[None]:
    """Have Ctrl-C wait until the block is through, so that what was kept is told too."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Ctrl-C comes to the main thread only
        return
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt
