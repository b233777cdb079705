"""A file that grows all or nothing: each append is on the disk whole, or not in the file."""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path
from typing import BinaryIO

OWNER_ONLY_FILE = 0o600
OWNER_ONLY_FOLDER = 0o700


class DurableFile:
    """A new file of owner-only permission that is only ever appended to.

    Raises FileExistsError where ``path`` exists: a recording is never
    written over.
    """

    def __init__(self, path: Path) -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC
        self._fd = os.open(path, flags, OWNER_ONLY_FILE)
        self.length = 0
        sync_folder(path.parent)

    def append(self, data: bytes) -> None:
        """Write and sync ``data``; raise OSError with the file as it was before."""
        try:
            write_at(self._fd, data, self.length)
            os.fdatasync(self._fd)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._fd, self.length)
            raise
        self.length += len(data)

    @property
    def deleted(self) -> bool:
        """Whether somebody has removed the file under us."""
        return os.fstat(self._fd).st_nlink == 0

    def close(self) -> None:
        """Close the file; it keeps what was appended."""
        os.close(self._fd)


def owner_only_file(path: Path) -> BinaryIO:
    """Open a new file, readable by its owner alone; raise FileExistsError if there is one."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC
    return os.fdopen(os.open(path, flags, OWNER_ONLY_FILE), "wb")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file of owner-only permission so that a crash leaves the old one or the new one."""
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    fd = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, OWNER_ONLY_FILE)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    except OSError:
        draft.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def write_at(fd: int, data: bytes, offset: int) -> None:
    """Write all of ``data`` at ``offset`` (a disk may take it in parts)."""
    view = memoryview(data)
    while view:
        written = os.pwrite(fd, view, offset)
        view, offset = view[written:], offset + written


def sync_folder(folder: Path) -> None:
    """Make a new file's name itself survive a power cut, where the file system can."""
    fd = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        with contextlib.suppress(OSError):
            os.fsync(fd)
    finally:
        os.close(fd)


def is_full(error: OSError) -> bool:
    """Whether there is no room for more, as against a disk that fails."""
    return error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def say_why(error: OSError) -> str:
    """Return in plain words what keeps a file from being written, and what to do."""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "The disk is full. Free some space"
        case errno.EFBIG:
            return "The file has reached the largest size allowed here. Raise the limit"
        case errno.EROFS:
            return "The disk has become read-only. Check the disk"
        case errno.EIO:
            return "The disk reports an error. Check the disk and its cable"
        case errno.ENOENT | errno.ENOTDIR:
            return "Its folder is gone. Put it back where it was"
        case _:
            return f"The disk refuses ({os.strerror(error.errno or 0)}). Check the disk"
