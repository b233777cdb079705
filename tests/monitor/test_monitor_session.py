"""A monitor with a session folder, in this process, on a device over ZeroMQ."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest
import zmq

from stream.files import load_layout, settings_text
from stream.monitor import compose
from stream.monitor.compose import run_plan
from stream.monitor.plan import Plan
from stream.monitor.presence import runtime_folder
from stream.monitor.process import stop_monitor
from stream.monitor.service import TaskFailed
from stream.monitor.viewer import ViewerLink
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.roster import Roster
from stream.settings import Settings
from tests.transport.feeds import force
from tests.transport.waiting import eventually, free_port

LAYOUT = load_layout("two-plates")


@pytest.fixture(autouse=True)
def own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))


async def send(url: str, names: list[str], until: asyncio.Event) -> None:
    with zmq.Context() as context, context.socket(zmq.PUB) as socket:
        socket.linger = 0
        socket.bind(url)
        number = 0
        while not until.is_set():
            for name in names:
                socket.send_multipart([f"moundfeed/{name}/force".encode(), force(number, name)])
            number += 1
            await asyncio.sleep(0.01)


async def test_what_became_of_a_run_that_was_cut_off_is_news_for_a_while(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compose, "NEWS_S", 1.5)
    folder = tmp_path / "session"
    runtime = runtime_folder(folder)
    url, done = f"tcp://127.0.0.1:{free_port()}", asyncio.Event()
    device = asyncio.create_task(send(url, ["mound-a"], done))
    plan = Plan(feed=url, layout=LAYOUT.origin_text, session=str(folder), pitcher="P01")

    def told(link: ViewerLink) -> bool:
        return any("was cut off" in sentence.text for sentence in link.sentences)

    for life in (1, 2):
        monitor = asyncio.create_task(run_plan(plan, runtime=runtime))
        async with ViewerLink(runtime) as link:
            await eventually(lambda link=link: link.latest and link.latest.feed.frames > 50)  # type: ignore[misc]
            if life == 2:
                assert told(link)
                await eventually(lambda link=link: not told(link))  # type: ignore[misc]
            assert await asyncio.to_thread(stop_monitor, runtime)
        await asyncio.wait({monitor})
        monitor.result()
        first = folder / "recording-001.mcap"
        first.write_bytes(first.read_bytes()[:-40])  # as after a power cut
    done.set()
    await device
    said = [e["text"] for e in Session.open(folder).log() if e["what"] == "said"]
    assert sum("was cut off" in text for text in said) == 1


async def test_a_session_belongs_to_one_mound_and_begins_with_the_zero_of_its_check(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "session"
    session = Session.create(
        folder, source="mound-b", layout_text=LAYOUT.origin_text,
        settings_text=settings_text(Settings()), roster=Roster(),
    )  # fmt: skip
    tare = [float(n) for n in range(LAYOUT.channels)]
    session.add_log(
        "zero", {"tare": {"by": "check", "taken_ns": None, "seconds": 5.0, "values": tare}}
    )
    session.close()
    runtime = runtime_folder(folder)
    url, done = f"tcp://127.0.0.1:{free_port()}", asyncio.Event()
    device = asyncio.create_task(send(url, ["mound-a", "mound-b"], done))
    monitor = asyncio.create_task(
        run_plan(Plan(feed=url, layout="", session=str(folder)), runtime=runtime)
    )
    async with ViewerLink(runtime) as link:
        await eventually(lambda: link.latest and link.latest.feed.frames > 50)
        assert link.sources == ["mound-b"], "the session knows its mound"
        assert any("'mound-a' is on this feed too" in s.text for s in link.sentences)
        assert link.latest is not None
        assert link.latest.zero.source == "taken"
    assert await asyncio.to_thread(stop_monitor, runtime)
    await asyncio.wait({monitor})
    monitor.result()
    done.set()
    await device
    recording = read_recording(folder / "recording-001.mcap")
    assert json.loads(recording.metadata["session"]["tare"]) == tare
    assert {p.topic for p in recording.packets()} >= {"moundfeed/mound-b/force"}
    assert not any("mound-a" in p.topic for p in recording.packets())


async def test_two_monitors_that_begin_one_session_with_the_same_message(tmp_path: Path) -> None:
    url, done = f"tcp://127.0.0.1:{free_port()}", asyncio.Event()
    plan = Plan(feed=url, layout=LAYOUT.origin_text, session=str(tmp_path / "session"), pitches=1)
    monitors = [asyncio.create_task(run_plan(plan)) for _ in range(2)]
    device = asyncio.create_task(send(url, ["mound-a"], done))
    ended, going = await asyncio.wait(monitors, timeout=20, return_when=asyncio.FIRST_COMPLETED)
    assert (len(ended), len(going)) == (1, 1)
    with pytest.raises(TaskFailed, match=r": a monitor is already running for .*session"):
        ended.pop().result()
    assert len(Session.open(tmp_path / "session").recordings()) == 1
    going.pop().cancel()
    done.set()
    await asyncio.wait([device, *monitors])


async def test_a_session_that_cannot_be_written_ends_the_monitor_with_a_sentence(
    tmp_path: Path,
) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "of somebody else").touch()
    url, done = f"tcp://127.0.0.1:{free_port()}", asyncio.Event()
    device = asyncio.create_task(send(url, ["mound-a"], done))
    plan = Plan(feed=url, layout=LAYOUT.origin_text, session=str(tmp_path / "folder"))
    with pytest.raises(TaskFailed, match="not empty and not a session"):
        await asyncio.wait_for(run_plan(plan), 20)
    done.set()
    await device
