"""The product's own commands on a real pseudo-terminal whose screen can be read."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pyte
import pytest

from stream.monitor.process import stop_monitor

DEADLINE_S = 30.0
ENTER, ESCAPE, TAB, UP, DOWN, RIGHT = "\r", "\x1b", "\t", "\x1b[A", "\x1b[B", "\x1b[C"


class Terminal:
    """A program on a pseudo-terminal of ``size`` (columns, rows)."""

    def __init__(self, *arguments: str, size: tuple[int, int] = (100, 30)) -> None:
        columns, rows = size
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tui.commands.main", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env={
                **os.environ,
                "TERM": "xterm-256color",
                "COLUMNS": str(columns),
                "LINES": str(rows),
            },
        )
        os.close(slave)
        self.seen = ""
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self._lines = [""] * rows
        self._gone = False

    @property
    def lines(self) -> list[str]:
        """What stands on the screen now, line by line."""
        columns = range(self._screen.columns)
        for y in self._screen.dirty:
            row = self._screen.buffer[y]
            self._lines[y] = "".join(row[x].data for x in columns).rstrip()
        self._screen.dirty.clear()
        return list(self._lines)

    @property
    def text(self) -> str:
        """What stands on the screen now, with lines that were wrapped put together again."""
        return " ".join(" ".join(self.lines).split())

    def until(self, *words: str) -> None:
        """Read until every word has been written, whether it still stands there or not."""
        end = time.monotonic() + DEADLINE_S
        while not all(word in self.seen for word in words):
            assert time.monotonic() < end, self.seen[-3000:]
            self._read(0.5)

    def until_shown(self, *words: str) -> None:
        """Read until every word stands on the screen at one time."""
        self.until_true(lambda text: all(word in text for word in words), f"{words}")

    def until_true(self, condition: Callable[[str], bool], what: str) -> None:
        """Read until ``condition`` of :attr:`text` holds."""
        end = time.monotonic() + DEADLINE_S
        while not condition(self.text):
            assert time.monotonic() < end, "\n".join([f"never: {what}", *self.lines])
            self._read(0.5)

    def press(self, *keys: str) -> None:
        """Press keys."""
        for key in keys:
            os.write(self._master, key.encode())

    def ended(self) -> int:
        """Wait for the program's end and return its exit code."""
        end = time.monotonic() + DEADLINE_S
        while self.process.poll() is None:
            assert time.monotonic() < end, self.seen[-3000:]
            self._read(0.2)
        self._read(0.0)
        return self.process.wait()

    def hang_up(self) -> None:
        """Take the terminal away and say so, as the system does when a window is closed."""
        self.vanish()
        self.process.send_signal(signal.SIGHUP)

    def vanish(self) -> None:
        """Take the terminal away without a word to the program."""
        os.close(self._master)
        self._gone = True

    def close(self) -> None:
        """Take the terminal away, and with it a program that is still there."""
        if not self._gone:
            os.close(self._master)
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()

    def _read(self, wait_s: float) -> None:
        """Wait for something to read, and take all of it: what comes next may be much later."""
        while select.select([self._master], [], [], wait_s)[0]:
            try:
                got = os.read(self._master, 65536)
            except OSError:  # the program has closed its end
                self.process.wait(DEADLINE_S)
                return
            self.seen += got.decode(errors="replace")
            self._stream.feed(got)
            wait_s = 0.0


@contextmanager
def terminal(*arguments: str, size: tuple[int, int] = (100, 30)) -> Iterator[Terminal]:
    """Run a command until the block is left."""
    term = Terminal(*arguments, size=size)
    try:
        yield term
    finally:
        term.close()


@pytest.fixture
def own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Monitors of these tests are found by these tests only, and end with them."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))
    yield
    for folder in short_folder.glob("moundfeed-*/*"):
        stop_monitor(folder)
