"""The small file by which a running monitor is found: ``monitor.json``, owner-only.

It lies with the monitor's sockets in a runtime folder of its own, which only
its owner can enter; a session's runtime folder follows from the session's path.

The monitor holds a lock on the file while it runs. The system takes the lock
away from a process that dies in whatever way, so a file that is not locked is
a leftover and nobody's process id is ever trusted by itself.

The runtime folder depends on the environment, which is another one on a
desktop, over SSH and in cron. So whoever writes to a session also holds a lock
on the session's folder itself (:func:`hold_session`); reading needs none.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import msgspec

from stream.recording.durable import OWNER_ONLY_FOLDER

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


class RuntimeFolderError(Exception):
    """The runtime folder is not safe to use; the text says what to do."""


def runtime_folder(name: str | Path) -> Path:
    """Return the runtime folder of a session (its path) or of another monitor (a name).

    Made if need be; raise :class:`RuntimeFolderError` if somebody else could enter it.
    """
    home = os.environ.get("XDG_RUNTIME_DIR")
    root = Path(home) if home else Path(tempfile.gettempdir())
    root = root / (f"moundfeed-{os.geteuid()}")
    what = str(name.resolve()) if isinstance(name, Path) else name
    folder = root / hashlib.sha256(what.encode()).hexdigest()[:16]
    for path in (root, folder):
        path.mkdir(mode=0o700, exist_ok=True)
        status = path.lstat()
        private = stat.S_ISDIR(status.st_mode) and not stat.S_IMODE(status.st_mode) & 0o077
        if not private or status.st_uid != os.geteuid():
            raise RuntimeFolderError(
                f"{path} is not yours alone, so others could act in your name; "
                "remove it, or set XDG_RUNTIME_DIR to a folder that is"
            )
    return folder


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
        _lock(
            handle,
            "a monitor is already running here; look at it with 'moundfeed watch', "
            "or stop it first",
        )
        os.ftruncate(handle, 0)
        yield path
        os.ftruncate(handle, 0)
    finally:
        os.close(handle)


@contextmanager
def hold_session(session: Path) -> Iterator[None]:
    """Hold a session's folder, made if need be, while it is written; raise AlreadyRunning."""
    session.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    handle = os.open(session, os.O_RDONLY | os.O_CLOEXEC)
    try:
        with suppress(OSError):  # a file system without locks: claim() alone guards there
            _lock(handle, held_elsewhere(session))
        yield
    finally:
        os.close(handle)


def is_held(session: Path) -> bool:
    """Whether somebody writes to the session in this folder, whatever his environment."""
    try:
        handle = os.open(session, os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False


def held_elsewhere(session: Path) -> str:
    """Return what is said where a session is held by a monitor that :func:`find` does not see."""
    return (
        f"a monitor is already running for {session}; look at it with 'moundfeed watch' where it "
        "was started (a desktop, SSH and cron see only their own), or stop it first"
    )


def announce(path: Path, presence: Presence) -> None:
    """Write ``presence`` into the file that this process holds."""
    path.write_bytes(msgspec.json.encode(presence))


def _lock(handle: int, refusal: str) -> None:
    for _ in range(10):  # whoever looks in with find() or is_held() holds the lock for a moment
        try:
            return fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            time.sleep(0.02)
    raise AlreadyRunning(refusal)


def _read(handle: int) -> Presence | None:
    try:
        return msgspec.json.decode(os.read(handle, 65536), type=Presence)
    except msgspec.DecodeError:
        return None  # it is just starting or stopping
