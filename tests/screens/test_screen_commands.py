"""The commands with a screen, as real processes on a real pseudo-terminal."""

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
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from stream.monitor.presence import find, runtime_folder
from stream.monitor.process import stop_monitor
from tui.commands.demo import free_port

DEADLINE_S = 90.0


class Terminal:
    """A program on a pseudo-terminal of 100 x 30."""

    def __init__(self, *arguments: str) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tui.commands.main", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "100", "LINES": "30"},
        )
        os.close(slave)
        self.seen = ""
        self._gone = False

    def until(self, *words: str) -> None:
        """Read until every word has been shown."""
        end = time.monotonic() + DEADLINE_S
        while not all(word in self.seen for word in words):
            assert time.monotonic() < end, self.seen[-3000:]
            self._read(0.5)

    def press(self, key: str) -> None:
        """Press a key."""
        os.write(self._master, key.encode())

    def ended(self) -> int:
        """Wait for the program's end and return its exit code."""
        end = time.monotonic() + DEADLINE_S
        while self.process.poll() is None:
            assert time.monotonic() < end, self.seen[-3000:]
            self._read(0.2)
        return self.process.wait()

    def hang_up(self) -> None:
        """Take the terminal away and say so, as the system does when a window is closed."""
        os.close(self._master)
        self._gone = True
        self.process.send_signal(signal.SIGHUP)

    def close(self) -> None:
        """Take the terminal away, and with it a program that is still there."""
        if not self._gone:
            os.close(self._master)
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()

    def _read(self, wait_s: float) -> None:
        ready, _, _ = select.select([self._master], [], [], wait_s)
        if ready:
            try:
                self.seen += os.read(self._master, 65536).decode(errors="replace")
            except OSError:  # the program has closed its end
                self.process.wait(DEADLINE_S)


@contextmanager
def terminal(*arguments: str) -> Iterator[Terminal]:
    term = Terminal(*arguments)
    try:
        yield term
    finally:
        term.close()


@pytest.fixture(autouse=True)
def own_runtime(
    tmp_path: Path, short_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """Monitors of these tests are found by these tests only, and end with them."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))
    yield
    for folder in tmp_path.glob("moundfeed-*/*"):
        stop_monitor(folder)


def test_demo_shows_a_live_feed_and_leaves_nothing_running(tmp_path: Path) -> None:
    session = tmp_path / "kept"
    with terminal("demo", "--session", str(session)) as term:
        term.until("FEED LIVE", "DEMO, invented data", "throwing: P01", "recording")
        assert find(runtime_folder(session)) is not None
        term.press("q")
        assert term.ended() == 0
    assert find(runtime_folder(session)) is None
    assert (session / "recording-001.mcap").stat().st_size > 0


def test_demo_ends_its_monitor_when_it_is_ended_from_outside(tmp_path: Path) -> None:
    session = tmp_path / "kept"
    with terminal("demo", "--session", str(session)) as term:
        term.until("FEED LIVE")
        term.process.send_signal(signal.SIGHUP)
        term.ended()
    assert find(runtime_folder(session)) is None


def test_the_session_goes_on_without_its_screen_and_is_found_again(tmp_path: Path) -> None:
    session, feed = tmp_path / "session", f"tcp://127.0.0.1:{free_port()}"
    device = subprocess.Popen(
        [sys.executable, "-m", "tui.commands.main", "simulate", "--to", feed, "--scene", "empty",
         "--seconds", "200"],
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        with terminal("watch", "--from", feed, "--layout", "two-plates", "--session",
                      str(session)) as term:  # fmt: skip
            term.until("FEED LIVE")
            term.press("q")
            term.until("Leave the screen")
            term.press("k")
            assert term.ended() == 0
        first = find(runtime_folder(session))
        assert first is not None
        with terminal("watch", "--session", str(session)) as term:
            term.until("FEED LIVE")
            term.process.send_signal(signal.SIGHUP)  # the terminal is dropped
            term.ended()
        again = find(runtime_folder(session))
        assert again is not None
        assert again.pid == first.pid
        with terminal("watch", "--session", str(session)) as term:
            term.until("FEED LIVE")
            term.press("q")
            term.until("Leave the screen")
            term.press("e")
            assert term.ended() == 0
        assert find(runtime_folder(session)) is None
    finally:
        device.kill()
        device.wait()


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ([], "Give --from URL"),
        (["--session", "nowhere"], "start one with --from"),
        (["--from", "tcp://127.0.0.1:1"], "--layout is needed"),
        (["--at", "tcp://127.0.0.1:1", "--session", "x"], "leave out --from and --session"),
        (["--from", "tcp://127.0.0.1:1", "--layout", "no-such"], "no-such"),
    ],
)
def test_wrong_use_is_one_line(arguments: list[str], word: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tui.commands.main", "watch", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=DEADLINE_S,
    )
    assert done.returncode == 2
    assert word in done.stderr
    assert done.stderr.count("\n") == 1
