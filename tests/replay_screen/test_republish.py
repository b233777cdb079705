"""A recording sent again over real sockets and a real broker: byte for byte, the same records."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.transport.conftest import broker, make_broker
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import eventually_now, free_port
from tui.commands.main import main

__all__ = ["broker", "make_broker"]
MOUNDFEED = [sys.executable, "-m", "tui.commands.main"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("republish") / "made.mcap"
    arguments = ["--pitches", "2", "--quick", "--no-traffic", "--seed", "5", "--pitchers", "1"]
    assert main(["simulate", "--to", str(path), *arguments, "--block", "10"]) == 0
    return path


def sent(path: Path) -> list[tuple[str, bytes]]:
    kinds = ("/force", "/speed")
    packets = read_recording(path).packets()
    return [(p.topic, bytes(p.payload)) for p in packets if p.topic.endswith(kinds)]


def log(feed: str, folder: Path, made: Path) -> subprocess.Popen[str]:
    """A live monitor that knows what the recording's own knew."""
    roster = folder / "roster.csv"
    roster.write_text(read_recording(made).metadata["roster"]["csv"])
    code = roster.read_text().splitlines()[1].split(",")[0]
    words = ["log", "--from", feed, "--layout", "two-plates", "--pitchers", str(roster)]
    words += ["--pitcher", code, "--jsonl", str(folder / "live.jsonl")]
    words += ["--record", str(folder / "live.mcap")]
    return subprocess.Popen(MOUNDFEED + words, stderr=subprocess.PIPE, text=True)


def ends(process: subprocess.Popen[str]) -> str:
    """Stop a monitor in good order and return what it said."""
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 0, said
    return said


def replay(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*MOUNDFEED, "replay", *arguments], capture_output=True, text=True, timeout=120, check=False
    )


def has(path: Path, messages: int) -> bool:
    if not path.exists():
        return False
    return sum(1 for _ in read_recording(path).packets()) >= messages


def compare(folder: Path, made: Path) -> None:
    assert sent(folder / "live.mcap") == sent(made), "byte for byte"
    assert main(["replay", str(made), "--jsonl", str(folder / "again.jsonl")]) == 0
    again = (folder / "again.jsonl").read_bytes()
    assert again.count(b'"number"') == 2
    assert (folder / "live.jsonl").read_bytes() == again


def test_over_zeromq_to_a_live_monitor(made: Path, tmp_path: Path) -> None:
    feed = f"tcp://127.0.0.1:{free_port()}"
    monitor = log(feed, tmp_path, made)
    done = replay(str(made), "--to", feed, "--speed", "40")
    assert done.returncode == 0, done.stderr
    assert f"sent to the end: {len(sent(made))} messages" in done.stderr
    eventually_now(lambda: has(tmp_path / "live.mcap", len(sent(made))), "all arrived")
    ends(monitor)
    compare(tmp_path, made)


def test_through_a_broker_to_a_live_monitor(broker: Mosquitto, made: Path, tmp_path: Path) -> None:
    monitor = log(broker.url, tmp_path, made)
    assert monitor.stderr is not None
    while "Connected to" not in monitor.stderr.readline():
        assert monitor.poll() is None
    done = replay(str(made), "--to", broker.url, "--speed", "40")
    assert done.returncode == 0, done.stderr
    eventually_now(lambda: has(tmp_path / "live.mcap", len(sent(made))), "all arrived")
    ends(monitor)
    compare(tmp_path, made)


def test_interrupted_it_says_how_far_it_came(made: Path) -> None:
    feed = f"tcp://127.0.0.1:{free_port()}"
    process = subprocess.Popen(
        [*MOUNDFEED, "replay", str(made), "--to", feed, "--wait", "0"],
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    while "sending" not in process.stderr.readline():
        assert process.poll() is None
    os.kill(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "stopped before the end" in said
    assert said.count("\n") == 1
    assert "Traceback" not in said


def two_runs(made: Path, folder: Path) -> Session:
    """A session of two recordings, as a monitor that was started twice leaves it."""
    assert main(["replay", str(made), "--session", str(folder)]) == 0
    session = Session.open(folder)
    _, path = session.next_recording()
    shutil.copyfile(made, path)
    return session


def test_a_sessions_folder_is_sent_and_measured_whole(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    two_runs(made, tmp_path / "session")
    capsys.readouterr()
    out = tmp_path / "out.jsonl"
    assert main(["replay", str(tmp_path / "session"), "--jsonl", str(out)]) == 0
    assert "4 pitches" in capsys.readouterr().out
    assert main(["replay", str(made), "--jsonl", str(tmp_path / "once.jsonl")]) == 0
    assert out.read_bytes() == 2 * (tmp_path / "once.jsonl").read_bytes()
    copy = tmp_path / "copy"
    assert main(["replay", str(tmp_path / "session"), "--session", str(copy)]) == 0
    assert [p.read_bytes() for p in Session.open(copy).recordings()] == 2 * [made.read_bytes()]
    capsys.readouterr()
    feed = f"tcp://127.0.0.1:{free_port()}"
    arguments = [str(tmp_path / "session"), "--to", feed, "--speed", "max", "--wait", "0"]
    assert main(["replay", *arguments]) == 0
    assert f"sent to the end: {2 * len(sent(made))} messages" in capsys.readouterr().err


def test_a_session_without_a_recording_is_said(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = two_runs(made, tmp_path / "session")
    for path in session.recordings():
        path.unlink()
    for arguments in ([], ["--to", "tcp://127.0.0.1:1"]):
        assert main(["replay", str(tmp_path / "session"), *arguments]) == 2
        assert "holds no recording yet" in capsys.readouterr().err


def test_only_the_mound_that_was_named_is_sent(
    made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["--to", "tcp://127.0.0.1:1", "--source", "mound-z"]
    assert main(["replay", str(made), *arguments]) == 2
    assert "holds no feed of 'mound-z'" in capsys.readouterr().err


def test_it_listens_on_the_loopback_unless_told_otherwise(
    made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(made), "--to", "tcp://0.0.0.0:5999"]) == 2
    assert "--open-to-network" in capsys.readouterr().err
