"""Programs that end without warning, and devices that stop: who ends with them and who goes on."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from pathlib import Path

import pytest

from benchmarks.soak import screen
from stream.access.broker import Connection
from stream.monitor.owner import end_with
from tests.monitor.programs import start
from tests.robustness.bullpen import Mound, until_told
from tests.transport.waiting import eventually, eventually_now, free_port


def children(pid: int) -> list[int]:
    task = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(word) for word in task.read_text().split()]


def runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.mark.fault(
    "the demo is killed (kill -9)", "its device and its monitor end by themselves within seconds"
)
def test_a_killed_demo_leaves_nothing_running(tmp_path: Path) -> None:
    demo, _ = screen(
        [sys.executable, "-m", "tui.commands.main", "demo", "--session", str(tmp_path / "s")]
    )
    try:
        eventually_now(lambda: len(children(demo.pid)) == 2, "device and monitor run")
        eventually_now((tmp_path / "s" / "recording-001.mcap").exists, "it records")
        both = children(demo.pid)
    finally:
        demo.kill()
        demo.wait()
    eventually_now(lambda: not any(runs(pid) for pid in both), "both have ended")


async def test_an_owner_that_is_there_ends_nobody() -> None:
    ended: list[bool] = []
    watching = asyncio.create_task(end_with(os.getppid(), lambda: ended.append(True)))
    done, _ = await asyncio.wait({watching}, timeout=1.2)
    assert not done
    assert not ended
    watching.cancel()


async def test_an_owner_that_never_was_ends_it_at_once() -> None:
    ended: list[bool] = []
    await end_with(os.getpid(), lambda: ended.append(True))
    assert ended == [True]


@pytest.mark.fault(
    "the device stops before the pitches asked for have been thrown (log --pitches)",
    "it is said that the feed has stopped; it waits on, and ends in good order when told",
)
def test_log_says_that_the_device_has_stopped(tmp_path: Path) -> None:
    lines = tmp_path / "p.jsonl"
    with Mound() as mound:
        log = start(
            "log", "--from", mound.url, "--layout", "two-plates", "--jsonl", lines,
            "--pitches", "5",
        )  # fmt: skip
        assert log.stderr is not None
        mound.send(until_told(2))
        said = ""
        while "feed stopped" not in said:
            said = log.stderr.readline()
            assert said, "it ended although pitches are missing"
        assert "taken up again by itself" in said
        assert log.poll() is None
        log.send_signal(signal.SIGINT)
        log.communicate(timeout=30)
    assert log.returncode == 0
    assert len([line for line in lines.read_text().splitlines() if "metrics" in line]) == 2


@pytest.mark.fault(
    "a session is ended before its device was ever heard",
    "it is said that nothing was recorded and that no session was made",
)
def test_log_says_that_nothing_came(tmp_path: Path) -> None:
    session = tmp_path / "tuesday"
    url = f"tcp://127.0.0.1:{free_port()}"
    log = start("log", "--from", url, "--layout", "two-plates", "--session", session)
    assert log.stderr is not None
    assert "Nobody answers" in log.stderr.readline()
    log.send_signal(signal.SIGINT)
    _, said = log.communicate(timeout=30)
    assert log.returncode == 0, said
    assert "nothing was recorded" in said
    assert not session.exists()


class Answers:
    """A broker's client whose answer comes when the test says so."""

    def __init__(self) -> None:
        self.answer = asyncio.Event()
        self.asked = asyncio.Event()

    async def publish(self, *_: object, **__: object) -> None:
        self.asked.set()
        await asyncio.wait_for(self.answer.wait(), 10)


@pytest.mark.fault(
    "the broker answers at the very moment at which the monitor is stopped",
    "the monitor stops: the answer never swallows the stop",
)
@pytest.mark.parametrize("turns", range(5))
async def test_an_answer_never_swallows_a_stop(turns: int) -> None:
    client = Answers()
    connection = Connection(client, None)  # type: ignore[arg-type]

    async def publish_for_ever() -> None:
        while True:
            await connection.publish("t", b"", 1)

    task = asyncio.create_task(publish_for_ever())
    await client.asked.wait()
    client.answer.set()
    for _ in range(turns):
        await asyncio.sleep(0)
    task.cancel()
    await eventually(task.done)
    assert task.cancelled()
