"""Waiting for what must come true, with a deadline instead of a guess."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import Callable

DEADLINE_S = 15.0


async def eventually(condition: Callable[[], object], what: str = "") -> None:
    """Return as soon as ``condition`` holds; fail when the deadline has passed."""
    deadline = time.monotonic() + DEADLINE_S
    while not condition():
        assert time.monotonic() < deadline, f"it never came true: {what or condition}"
        await asyncio.sleep(0.005)


def eventually_now(condition: Callable[[], object], what: str = "") -> None:
    """The same for code that is not asynchronous."""
    deadline = time.monotonic() + DEADLINE_S
    while not condition():
        assert time.monotonic() < deadline, f"it never came true: {what or condition}"
        time.sleep(0.005)


def free_port() -> int:
    """Return a port of the loopback that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
