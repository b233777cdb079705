from __future__ import annotations

import asyncio
import errno
import os
import socket
import stat
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import zmq
import zmq.asyncio

from stream.access.curve import client_keys, make_keys, server_keys
from stream.actions import Note, encode_action
from stream.files import load_layout
from stream.monitor import protocol
from stream.monitor.compose import endpoints, presence_of
from stream.monitor.link import ViewServer
from stream.monitor.presence import (
    AlreadyRunning,
    Presence,
    RuntimeFolderError,
    announce,
    claim,
    find,
    runtime_folder,
)
from stream.monitor.view import KEPT_PITCHES, KEPT_TRACES, LocalLink
from stream.monitor.viewer import ViewerLink
from stream.outputs import NotCounted, NotCountedReason, NotCountedRecord, PitchChanged
from stream.pipeline import Pipeline
from stream.snapshot import Level, Sentence
from stream.wire import Packet
from tests.monitor.fakes import pitch, record
from tests.transport.waiting import eventually, free_port

LAYOUT = load_layout("two-plates")
PICTURE = Pipeline("mound-a", LAYOUT).snapshot(0)
STEP_OFF = NotCounted(NotCountedRecord("mound-a", "s1", NotCountedReason.STEP_OFF, 9.0, "off"))


@pytest.fixture(autouse=True)
def own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))


class Server:
    """A view server that gives signs of life, as the monitor does."""

    def __init__(self, context: zmq.asyncio.Context, where: list[str]) -> None:
        self.view = ViewServer(context, where)
        self.silent = False
        self.sources = ["mound-a"]
        self.sentences = [Sentence(Level.INFO, "connection", "Connected.")]

    async def beat(self) -> None:
        while True:
            if not self.silent:
                self.view.alive(self.sources, self.sentences)
                for source in self.sources:
                    if self.view.wants_picture(source):
                        self.view.show(PICTURE)
            await asyncio.sleep(0.02)


@asynccontextmanager
async def serving(folder: Path) -> AsyncIterator[Server]:
    with claim(folder) as file, zmq.asyncio.Context() as context:
        server = Server(context, endpoints(folder))
        announce(file, presence_of(folder, "x"))
        tasks = [asyncio.create_task(server.view.run()), asyncio.create_task(server.beat())]
        try:
            yield server
            assert not any(task.done() for task in tasks)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.wait(tasks)
            server.view.close()


async def test_a_viewer_sees_pictures_pitches_and_words() -> None:
    folder = runtime_folder("t")
    async with serving(folder) as server, ViewerLink(folder) as link:
        assert link.latest is None
        assert link.age_s is None
        await eventually(lambda: link.latest is not None)
        assert link.latest == PICTURE
        assert link.sources == ["mound-a"]
        assert link.sentences[0].text == "Connected."
        server.view.take([pitch(1), STEP_OFF])
        await eventually(lambda: link.pitches and link.not_counted)
        assert link.pitches[0].record == record(1)
        traces, sent = link.pitches[0].traces, pitch(1).traces
        assert traces is not None
        assert (traces.first_frame, traces.rate_hz) == (sent.first_frame, sent.rate_hz)
        for name in ("time_s", "drive", "lead", "drive_cop", "lead_cop"):
            np.testing.assert_allclose(getattr(traces, name), getattr(sent, name), rtol=1e-6)
        server.view.take([PitchChanged(record(1, note="late arm"))])
        await eventually(lambda: link.pitches[0].record.note == "late arm")
        assert link.pitches[0].traces is traces, "a change keeps the traces"
        assert not link.lost
        assert link.missed == 0


async def test_who_comes_late_gets_everything_in_its_last_state() -> None:
    folder = runtime_folder("t")
    async with serving(folder) as server:
        server.view.take([pitch(1), pitch(2), STEP_OFF, PitchChanged(record(1, note="changed"))])
        async with ViewerLink(folder) as link:
            await eventually(lambda: len(link.pitches) == 2 and link.not_counted)
            assert [p.record.note for p in link.pitches] == ["changed", ""]
            assert all(p.traces is not None for p in link.pitches)
            assert link.missed == 0, "who comes late has missed nothing"


@pytest.mark.fault(
    "a screen is stuck for a while",
    "the feed is not delayed; the screen fetches what it missed and says how much",
)
async def test_a_viewer_who_was_stuck_catches_up_and_says_so() -> None:
    """It does not read for a while; the monitor does not wait, and nothing stays missing."""
    folder = runtime_folder("t")
    async with serving(folder) as server, ViewerLink(folder) as link:
        server.view.take([pitch(1)])
        await eventually(lambda: link.pitches)
        assert link._task is not None
        link._task.cancel()
        await asyncio.wait({link._task})
        for number in range(2, 1500):
            server.view.take([PitchChanged(record(number, note="x" * 2000))])
        server.view.take([STEP_OFF])
        link._task = asyncio.create_task(link._run())
        await eventually(lambda: link.not_counted and len(link.pitches) >= KEPT_PITCHES)
        assert link.pitches[-1].record.number == 1499
        assert link.missed > 0


async def test_memory_stays_bounded() -> None:
    folder = runtime_folder("t")
    async with serving(folder) as server:
        for number in range(1, KEPT_PITCHES + 301):
            server.view.take([pitch(number)])
        async with ViewerLink(folder) as link:
            await eventually(lambda: len(link.pitches) == KEPT_PITCHES)
            with_traces = [p.record.number for p in link.pitches if p.traces is not None]
            assert len(with_traces) == KEPT_TRACES
            assert with_traces[-1] == KEPT_PITCHES + 300
    local = LocalLink()
    local.feed(pitch(number) for number in range(1, KEPT_PITCHES + 301))
    assert len(local.pitches) == KEPT_PITCHES
    assert sum(p.traces is not None for p in local.pitches) == KEPT_TRACES


async def test_the_operator_acts_and_is_answered() -> None:
    folder = runtime_folder("t")
    taken: list[Packet] = []

    def act(packet: Packet) -> str | None:
        taken.append(packet)
        return "There is no pitch 9." if b"9" in packet.payload else None

    async with serving(folder) as server, ViewerLink(folder) as link:
        server.view.act = act
        await eventually(lambda: link.latest)
        assert link.may_act
        note = Note(source="mound-a", t_ns=5, number=1, text="late arm")
        assert await link.act(note) is None
        assert taken[0].topic == "moundfeed/mound-a/operator"
        assert taken[0].payload == encode_action(note)
        answer = await link.act(Note(source="mound-a", t_ns=5, number=9, text=""))
        assert answer == "There is no pitch 9."
        answer = await link.act(Note(source="mound-a", t_ns=5, number=1, text="x" * 501))
        assert "not done" in str(answer)
        assert len(taken) == 2


async def test_who_only_looks_on_cannot_act() -> None:
    folder = runtime_folder("t")
    async with serving(folder) as server, ViewerLink(folder, view_only=True) as link:
        server.view.act = lambda packet: None
        await eventually(lambda: link.latest)
        assert not link.may_act
        note = Note(source="mound-a", t_ns=5, number=1, text="late arm")
        assert await link.act(note) == "This screen only looks on; it cannot change anything."


async def test_over_the_network_there_is_nothing_to_act_on(tmp_path: Path) -> None:
    """Not even for a program that speaks the protocol: the endpoint does not exist."""
    port = free_port()
    ends = [f"tcp://127.0.0.1:{port}", f"tcp://127.0.0.1:{port + 1}"]
    acted: list[Packet] = []
    with zmq.asyncio.Context() as context:
        server = Server(context, ends)
        server.view.act = acted.append
        tasks = [asyncio.create_task(server.view.run()), asyncio.create_task(server.beat())]
        async with ViewerLink(ends[0]) as link:
            await eventually(lambda: link.latest)
            assert not link.may_act
        with zmq.asyncio.Context() as other, other.socket(zmq.DEALER) as intruder:
            intruder.linger = 0
            intruder.connect(ends[1])
            note = encode_action(Note(source="mound-a", t_ns=5, number=1, text="intruder"))
            await intruder.send_multipart([b"\0" * 8, note])
            ask = protocol.encode(protocol.Ask("mound-a", 0))
            await intruder.send_multipart([b"\1" * 8, ask])
            answer = await intruder.recv_multipart()
            assert answer[0] == b"\1" * 8, "the action got no answer at all"
        assert not acted
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
        server.view.close()


def shows(link: ViewerLink, pitches: list[tuple[int, str]]) -> bool:
    return [(p.record.number, p.record.note) for p in link.pitches] == pitches


async def test_another_session_at_the_same_address_shows_nothing_of_the_one_before() -> None:
    port = free_port()
    ends = [f"tcp://127.0.0.1:{port}", f"tcp://127.0.0.1:{port + 1}"]
    async with ViewerLink(ends[0]) as link:
        for numbers in ((1, 2, 3, 4), (1,)):
            with zmq.asyncio.Context() as context:
                server = Server(context, ends)
                server.view.take([pitch(number) for number in numbers])
                server.view.take([STEP_OFF] if len(numbers) > 1 else [])
                tasks = [asyncio.create_task(server.view.run()), asyncio.create_task(server.beat())]
                try:
                    await eventually(partial(shows, link, [(number, "") for number in numbers]))
                    assert len(link.not_counted) == (len(numbers) > 1)
                finally:
                    for task in tasks:
                        task.cancel()
                    await asyncio.wait(tasks)
                    server.view.close()


async def test_the_same_session_goes_on_with_the_traces_of_before() -> None:
    folder = runtime_folder("t")
    async with ViewerLink(folder) as link:
        for run in range(2):
            async with serving(folder) as server:
                server.view.session = "5e55"
                server.view.take([pitch(1)] if run == 0 else [])
                server.view.remember(record(1, note=f"run {run}"))
                await eventually(partial(shows, link, [(1, f"run {run}")]))
                assert link.pitches[0].traces is not None


async def test_over_the_network_with_keys(tmp_path: Path) -> None:
    make_keys(tmp_path / "club", ["tablet"])
    make_keys(tmp_path / "other", ["stranger"])
    public = (tmp_path / "club/server/server.key").read_text()
    (tmp_path / "other/stranger/server.key").write_text(public)
    port = free_port()
    ends = [f"tcp://127.0.0.1:{port}", f"tcp://127.0.0.1:{port + 1}"]
    with zmq.asyncio.Context() as context:
        view = ViewServer(context, ends, keys=server_keys(tmp_path / "club/server"))
        server = Server.__new__(Server)
        server.view, server.silent, server.sources, server.sentences = view, False, ["mound-a"], []
        tasks = [asyncio.create_task(view.run()), asyncio.create_task(server.beat())]
        stranger = ViewerLink(ends[0], keys=client_keys(tmp_path / "other/stranger"))
        async with (
            stranger,
            ViewerLink(ends[0], keys=client_keys(tmp_path / "club/tablet")) as link,
        ):
            view.take([pitch(1)])
            await eventually(lambda: link.latest and link.pitches)
            assert view._doorkeeper is not None
            await eventually(lambda: view._doorkeeper and view._doorkeeper.refused)
            assert stranger.latest is None
            assert stranger.sources == []
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
        view.close()


@pytest.mark.fault(
    "the monitor falls silent",
    "the screen says so within two seconds and finds it again",
)
async def test_a_monitor_that_falls_silent_is_lost_and_found_again() -> None:
    now = [0.0]
    folder = runtime_folder("t")
    async with ViewerLink(folder, clock=lambda: now[0]) as link:
        assert not link.lost
        async with serving(folder) as server:
            await eventually(lambda: link.latest)
            server.silent = True
            await asyncio.sleep(0)
            now[0] += 2.5
            await eventually(lambda: link.lost)
            assert "has not answered for 2 s" in link.lost_say
            assert not link.may_act
        async with serving(folder) as server:
            server.view.take([pitch(1)])
            await eventually(lambda: not link.lost)
            await eventually(lambda: link.pitches)
            server.view.alive(server.sources, [], stopping=True)
            server.silent = True
            await eventually(lambda: link.lost)
            assert link.lost_say.startswith("The monitor was stopped")


@pytest.mark.fault(
    "nonsense is sent to the monitor and to a screen",
    "neither ends; the others are served",
)
async def test_nonsense_does_not_end_a_server_or_a_viewer() -> None:
    folder = runtime_folder("t")
    async with serving(folder) as server, ViewerLink(folder) as link:
        await eventually(lambda: link.latest)
        with zmq.asyncio.Context() as context:
            for end in endpoints(folder)[1:]:
                with context.socket(zmq.DEALER) as intruder:
                    intruder.linger = 0
                    intruder.connect(end)
                    for parts in ([b""], [b"a", b"b", b"c"], [b"x", b"\xff\xff"], [b"y", b"{}"]):
                        await intruder.send_multipart(parts)
        for bad in ((b"alive", b"\xff"), (b"now/mound-a/",), (b"told/mound-a/", b"1", b"\xc1")):
            server.view._send(*bad)
        server.view.take([pitch(1)])
        await eventually(lambda: link.pitches)
        assert link.missed >= 2


@pytest.fixture
def everybodys(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Everybody can come as far as this, so that it is our own folder that keeps them out."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o777)
        monkeypatch.setenv("XDG_RUNTIME_DIR", folder)
        yield


@pytest.mark.usefixtures("everybodys")
async def test_only_the_owner_can_reach_the_operators_endpoint() -> None:
    folder = runtime_folder("t")
    async with serving(folder):
        for path in (folder.parent, folder):
            assert stat.S_IMODE(path.stat().st_mode) == 0o700
        assert stat.S_IMODE((folder / "monitor.json").stat().st_mode) == 0o600
        if os.geteuid() == 0:  # only root can try it as somebody else
            assert connects_as_nobody(folder / "operate") == errno.EACCES


def connects_as_nobody(path: Path) -> int:
    """Try to connect as the system's nobody; return the error's number, 0 where it worked."""
    child = os.fork()
    if child == 0:
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            os._exit(socket.socket(socket.AF_UNIX).connect_ex(str(path)))
        finally:
            os._exit(255)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def test_a_runtime_folder_that_others_can_enter_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = runtime_folder("t")
    folder.chmod(0o755)
    with pytest.raises(RuntimeFolderError, match="not yours alone"):
        runtime_folder("t")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "b"))
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / f"moundfeed-{os.geteuid()}").symlink_to(tmp_path)
    with pytest.raises(RuntimeFolderError):
        runtime_folder("t")


def test_a_second_monitor_is_refused_and_a_leftover_is_not_believed(tmp_path: Path) -> None:
    presence = Presence(pid=1, view="v", ask="a", operate="o", feed="x", started_ns=1)
    assert find(tmp_path) is None
    with claim(tmp_path) as file:
        announce(file, presence)
        assert find(tmp_path) == presence
        with pytest.raises(AlreadyRunning), claim(tmp_path):
            pass
    announce(tmp_path / "monitor.json", presence)  # as if it had died
    assert find(tmp_path) is None
    with claim(tmp_path):
        pass
