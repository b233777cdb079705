"""The commands with a screen, as real processes on a real pseudo-terminal."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analysis.invented import says_invented
from stream.monitor.presence import find, runtime_folder
from stream.recording.reader import read_recording
from tests.screens.pseudo_terminal import DEADLINE_S, own_runtime, terminal
from tui.commands.demo import free_port

__all__ = ["own_runtime"]
pytestmark = pytest.mark.usefixtures("own_runtime")


def test_demo_shows_a_live_feed_and_leaves_nothing_running(tmp_path: Path) -> None:
    session = tmp_path / "kept"
    with terminal("demo", "--session", str(session)) as term:
        term.until("FEED LIVE", "DEMO, invented data", "throwing: P01", "recording")
        assert find(runtime_folder(session)) is not None
        term.press("q")
        assert term.ended() == 0
    assert find(runtime_folder(session)) is None
    assert (session / "recording-001.mcap").stat().st_size > 0
    assert says_invented(read_recording(session / "recording-001.mcap"))


def test_demo_ends_its_monitor_when_it_is_ended_from_outside(tmp_path: Path) -> None:
    session = tmp_path / "kept"
    with terminal("demo", "--session", str(session)) as term:
        term.until("FEED LIVE")
        term.process.send_signal(signal.SIGHUP)
        term.ended()
    assert find(runtime_folder(session)) is None


def test_demo_ends_with_a_terminal_that_vanishes_without_a_word(tmp_path: Path) -> None:
    """As `make demo` does in a window that is closed: make is told, and keeps it to itself."""
    session = tmp_path / "kept"
    with terminal("demo", "--session", str(session)) as term:
        term.until("FEED LIVE")
        term.vanish()
        term.process.wait(DEADLINE_S)
    end = time.monotonic() + DEADLINE_S
    while find(runtime_folder(session)) is not None:
        assert time.monotonic() < end, "its monitor goes on"
        time.sleep(0.1)


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
        (["--from", "mound"], "the address must look like"),
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
