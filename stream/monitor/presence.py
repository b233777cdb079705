"""The small file by which a running monitor is found: ``monitor.json``, owner-only.

The monitor holds a lock on the file while it runs. The system takes the lock
away from a process that dies in whatever way, so a file that is not locked is
a leftover and nobody's process id is ever trusted by itself.
"""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

FILE_NAME = "monitor.json"


class Presence(msgspec.Struct, frozen=True, kw_only=True):
    """A running monitor: its process and the endpoints of :mod:`stream.monitor.protocol`."""

    pid: int
    view: str
    ask: str
    operate: str
    feed: str
    started_ns: int
    v: int = 1


class AlreadyRunning(Exception):  # noqa: N818 - it is a state, said to the operator
    """Another monitor holds this folder."""


def find(folder: Path) -> Presence | None:
    """Return the monitor that runs for ``folder``; None if there is none (any more)."""
    try:
        handle = os.open(folder / FILE_NAME, os.O_RDONLY)
    except OSError:
        return None
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return _read(handle)
        return None
    finally:
        os.close(handle)


@contextmanager
def claim(folder: Path) -> Iterator[Path]:
    """Hold ``folder`` for this process; raise :class:`AlreadyRunning` if another does."""
    path = folder / FILE_NAME
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        os.fchmod(handle, 0o600)
        _lock(handle, folder)
        os.ftruncate(handle, 0)
        yield path
        os.ftruncate(handle, 0)
    finally:
        os.close(handle)


def announce(path: Path, presence: Presence) -> None:
    """Write ``presence`` into the file that this process holds."""
    path.write_bytes(msgspec.json.encode(presence))


def _lock(handle: int, folder: Path) -> None:
    for _ in range(10):  # whoever looks in with find() holds the lock for a moment
        try:
            return fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            time.sleep(0.02)
    raise AlreadyRunning(
        f"a monitor is already running for {folder}; look at it with "
        f"'moundfeed watch --session {folder}', or stop that one first"
    )


def _read(handle: int) -> Presence | None:
    try:
        return msgspec.json.decode(os.read(handle, 65536), type=Presence)
    except msgspec.DecodeError:
        return None  # it is just starting or stopping
