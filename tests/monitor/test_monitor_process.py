"""The monitor as a process: killed, left behind, found again, stopped (real processes)."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from analysis.review.changing import ChangeRefused, change
from analysis.sessions.stored import read_session
from stream.actions import ChoosePitcher, Note
from stream.files import load_layout
from stream.monitor.plan import Plan, decode_plan, encode_plan
from stream.monitor.presence import find, is_held, runtime_folder
from stream.monitor.process import MonitorError, start_monitor, stop_monitor
from stream.monitor.viewer import ViewerLink
from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.monitor.fakes import record
from tests.monitor.programs import outcome
from tests.monitor.test_log_command import Device
from tests.transport.waiting import eventually, eventually_now

LAYOUT = load_layout("two-plates")


@pytest.fixture(autouse=True)
def own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))


def plan(feed: str, session: Path, layout: str = LAYOUT.origin_text) -> Plan:
    return Plan(feed=feed, layout=layout, session=str(session))


def test_a_plan_reaches_the_other_process_whole(tmp_path: Path) -> None:
    whole = Plan(
        feed="tcp://h:1", layout=LAYOUT.origin_text, roster="pitcher,throws\nP03,R\n", pitches=3,
        session=str(tmp_path),
    )  # fmt: skip
    assert decode_plan(encode_plan(whole)) == whole


@pytest.mark.fault(
    "the monitor is killed (kill -9) with a screen open",
    "the screen says that nothing may be recorded; a new monitor goes on in a new file",
)
async def test_killed_the_screen_knows_and_the_session_goes_on(tmp_path: Path) -> None:
    """kill -9; what it recorded opens; a new monitor goes on in a new file; the screen finds it."""
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    with Device() as device:
        first = await asyncio.to_thread(start_monitor, plan(device.url, session), runtime)
        async with ViewerLink(runtime) as link:
            await eventually(lambda: link.latest and link.latest.feed.frames > 100)
            assert link.latest is not None
            assert link.latest.recording is not None
            assert await link.act(ChoosePitcher(source="mound-a", t_ns=1, pitcher="P07")) is None
            await eventually(lambda: link.latest and link.latest.pitcher == "P07")
            await eventually(lambda: (session / "recording-001.mcap").stat().st_size > 5000)
            os.kill(first.pid, signal.SIGKILL)
            await eventually(lambda: link.lost)
            assert "nothing may be received or recorded" in link.lost_say
            assert await link.act(ChoosePitcher(source="mound-a", t_ns=1, pitcher="")) is not None
            assert find(runtime) is None, "a dead monitor's file is not believed"

            kept = Session.open(session)
            kept.add_record(record(4))
            kept.close()
            second = await asyncio.to_thread(start_monitor, plan(device.url, session), runtime)
            assert second.pid != first.pid
            await eventually(
                lambda: not link.lost and [p.record.number for p in link.pitches] == [4]
            )
        assert await asyncio.to_thread(stop_monitor, runtime)
    assert not await asyncio.to_thread(stop_monitor, runtime), "there is none any more"
    assert [p.name for p in Session.open(session).recordings()] == [
        "recording-001.mcap", "recording-002.mcap",
    ]  # fmt: skip
    torn = read_recording(session / "recording-001.mcap")
    assert len(list(torn.packets())) > 10
    whole = read_recording(session / "recording-002.mcap")
    assert len(list(whole.packets())) > 0
    assert not whole.truncated
    assert json.loads(whole.metadata["session"]["first_number"]) == 5
    actions = [e for e in Session.open(session).log() if e["what"] == "action"]
    assert [a["pitcher"] for a in actions] == ["P07"]
    for path in session.rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, f"{path} is its owner's alone"


@pytest.mark.fault(
    "the screen is killed, or its window closed",
    "the recorder goes on recording",
)
def test_it_survives_its_screen_and_its_terminal(tmp_path: Path) -> None:
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    code = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from stream.monitor.plan import decode_plan\n"
        "from stream.monitor.process import start_monitor\n"
        "start_monitor(decode_plan(sys.argv[1].encode()), Path(sys.argv[2]))\n"
        "print('started', flush=True)\n"
        "time.sleep(600)\n"
    )
    with Device() as device:
        wanted = encode_plan(plan(device.url, session)).decode()
        screen = subprocess.Popen(
            [sys.executable, "-c", code, wanted, str(runtime)],
            stdout=subprocess.PIPE,
            start_new_session=True,
        )
        assert screen.stdout is not None
        assert screen.stdout.readline() == b"started\n"
        recording = session / "recording-001.mcap"
        eventually_now(recording.exists)
        os.killpg(screen.pid, signal.SIGHUP)  # as when its window is closed
        screen.kill()
        screen.wait()
        screen.stdout.close()
        size = recording.stat().st_size
        eventually_now(lambda: recording.stat().st_size > size + 5000, "it goes on recording")
        assert stop_monitor(runtime)
    assert not read_recording(recording).truncated


def test_what_cannot_work_is_said_by_whoever_starts_it(tmp_path: Path) -> None:
    runtime = runtime_folder("t")
    with pytest.raises(MonitorError, match="the layout"):
        start_monitor(plan("tcp://127.0.0.1:5", tmp_path / "s", layout="name = 1"), runtime)
    assert find(runtime) is None
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "something").touch()
    asked = Plan(feed="tcp://127.0.0.1:5", layout=LAYOUT.origin_text, jsonl=str(tmp_path / "no/x"))
    with pytest.raises(MonitorError, match="No such file"):
        start_monitor(asked, runtime)


async def test_one_at_a_time_for_a_session(tmp_path: Path) -> None:
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    with Device() as device:
        await asyncio.to_thread(start_monitor, plan(device.url, session), runtime)
        with pytest.raises(MonitorError, match="already running"):
            await asyncio.to_thread(start_monitor, plan(device.url, session), runtime)
        await asyncio.to_thread(stop_monitor, runtime)


@pytest.mark.fault(
    "a second monitor is started for a session from SSH or cron, where XDG_RUNTIME_DIR is another",
    "it is refused in words; the session is read and the first one goes on; kill -9 leaves no lock",
)
async def test_one_at_a_time_whatever_the_environment(
    tmp_path: Path, short_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, elsewhere = tmp_path / "session", short_folder / "ssh"
    elsewhere.mkdir()
    here = runtime_folder(session)
    with Device() as device:
        wanted = plan(device.url, session)
        first = await asyncio.to_thread(start_monitor, wanted, here)
        await eventually((session / "recording-001.mcap").exists)
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(elsewhere))
        there = runtime_folder(session)
        assert there != here
        with pytest.raises(MonitorError, match=r"already running for .*session"):
            await asyncio.to_thread(start_monitor, wanted, there)
        for words in (
            ("log", "--from", device.url, "--session", session),
            ("watch", "--session", session),
            ("check", "--from", device.url, "--session", session),
        ):
            code, _, err = await asyncio.to_thread(outcome, *words)
            assert (code, "a monitor " in err) == (1, True), err
        stored = read_session(session)
        with pytest.raises(ChangeRefused, match="A monitor is running for this session"):
            change(stored, Note(source="mound-a", t_ns=1, number=1, text="x"))
        assert len(Session.open(session).recordings()) == 1
        os.kill(first.pid, signal.SIGKILL)
        await eventually(lambda: not is_held(session))
        await asyncio.to_thread(start_monitor, wanted, there)
        assert await asyncio.to_thread(stop_monitor, there)
    assert not is_held(session)


def arguments_of(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_text()


async def test_no_secret_in_arguments_or_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker's password reaches the monitor, and nothing that others can read."""
    monkeypatch.setenv("MOUNDFEED_MQTT_PASSWORD", "sixty-feet-six")
    session = tmp_path / "session"
    runtime = runtime_folder(session)
    wanted = plan("mqtt://monitor@127.0.0.1:5", session)
    presence = await asyncio.to_thread(start_monitor, wanted, runtime)
    async with ViewerLink(runtime) as link:
        await eventually(lambda: any("No broker answers" in s.text for s in link.sentences))
        assert "sixty-feet-six" not in arguments_of(presence.pid)
    await asyncio.to_thread(stop_monitor, runtime)
    for path in [*runtime.rglob("*"), *session.rglob("*")]:
        if path.is_file():
            assert b"sixty-feet-six" not in path.read_bytes(), path
