"""JSON Lines: one line a pitch or movement not counted, on the disk as it closes.

Each line is synced, so that a power cut takes no line that was written. A disk
that is full holds nobody up: lines wait in memory, the sink says so,
and they are written in order when there is space.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections import deque
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Self

from stream.outputs import NotCounted, Output, PitchClosed, record_json
from stream.recording.durable import OWNER_ONLY_FILE, say_why, sync_folder, write_at

#: Lines that wait for a disk; more than any session has pitches.
MAX_WAITING = 10_000


def say_waiting(error: OSError, lines: int, file: str) -> str:
    """Return why ``lines`` for ``file`` are not written yet, and what to do."""
    return f"{say_why(error)}: {lines} lines for {file} wait."


class LineFile:
    """A file of lines that is only appended to, of owner-only permission when new.

    A line is written whole or not at all; a line that an earlier run left
    unfinished is closed first. Raises OSError only where the file cannot be
    opened. ``fresh`` empties the file first. ``sync_each`` False leaves it to
    :meth:`close` to sync, for lines that can be made again. Where somebody
    deletes the file or puts another in its place, the next line goes into the
    file that has the name then.
    """

    def __init__(self, path: Path, *, fresh: bool = False, sync_each: bool = True) -> None:
        self.path = path
        self._sync_each = sync_each
        self._waiting: deque[bytes] = deque()
        self._cut = False
        #: Lines given up because too many waited.
        self.lost = 0
        #: What keeps the lines from the disk, in words; None where nothing does.
        self.trouble: str | None = None
        self._open(os.O_TRUNC if fresh else 0)

    def append(self, line: bytes) -> None:
        """Write one line (without its newline), now or as soon as the disk takes it."""
        if len(self._waiting) >= MAX_WAITING:
            self.lost += 1
        else:
            self._waiting.append(line + b"\n")
        self.retry()

    def retry(self) -> bool:
        """Write what waits; return whether nothing waits any more."""
        try:
            self._follow()
            while self._waiting:
                self._write(self._waiting[0])
                self._waiting.popleft()
        except OSError as error:
            self.trouble = say_waiting(error, len(self._waiting), self.path.name)
            return False
        self.trouble = (
            f"{self.path.name} has been deleted or cut: its earlier lines are missing. New ones go "
            "into the file that is there now; measure the recording again for the others."
            if self._cut
            else None
        )
        return True

    def close(self) -> bool:
        """Write what waits and close; return whether all lines are in the file."""
        complete = self.retry() and not self.lost and not self._cut
        with contextlib.suppress(OSError):
            os.fsync(self._fd)
        os.close(self._fd)
        return complete

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _open(self, how: int = 0) -> None:
        self._fd = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | how, OWNER_ONLY_FILE)
        status = os.fstat(self._fd)
        self._regular = stat.S_ISREG(status.st_mode)
        self._length = status.st_size if self._regular else 0
        if self._regular and self._sync_each and not self._length:
            sync_folder(self.path.parent)
        if self._length and os.pread(self._fd, 1, self._length - 1) != b"\n":
            self._waiting.appendleft(b"\n")

    def _follow(self) -> None:
        if not self._regular or os.fstat(self._fd).st_nlink:
            return
        before, length = self._fd, self._length
        self._open()
        os.close(before)
        self._cut = self._cut or self._length < length

    def _write(self, line: bytes) -> None:
        if not self._regular:
            view = memoryview(line)
            while view:
                view = view[os.write(self._fd, view) :]
            return
        try:
            write_at(self._fd, line, self._length)
            if self._sync_each:
                os.fdatasync(self._fd)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._fd, self._length)
            raise
        self._length += len(line)


class JsonLinesSink:
    """Takes the core's outputs; writes each pitch when it closes, each movement not counted."""

    def __init__(self, lines: LineFile) -> None:
        self.lines = lines
        self.pitches = 0

    def take(self, outputs: Iterable[Output]) -> None:
        """Write the lines that ``outputs`` ask for."""
        for output in outputs:
            match output:
                case PitchClosed(record):
                    self.pitches += 1
                    self.lines.append(record_json(record))
                case NotCounted(record):
                    self.lines.append(record_json(record))
                case _:
                    pass
