"""States of the monitor that no other test produces, and the page that lists them all."""

from __future__ import annotations

import asyncio
import errno
import re
from pathlib import Path

import msgspec
import numpy as np
import pytest
import zmq
import zmq.asyncio

from docs import make_states
from docs.make_states import PAGE, ROOT, page
from simulators.feed import Device, messages, packed
from simulators.recorded import record
from simulators.scenario import Plan, compose
from stream.actions import Note, Reassign
from stream.book import Book
from stream.monitor import viewer, words
from stream.monitor.earlier import take_up
from stream.monitor.link import ViewServer
from stream.monitor.presence import runtime_folder
from stream.monitor.viewer import ViewerLink
from stream.outputs import Fault, ZeroLearnt
from stream.pipeline import Pipeline
from stream.recording.durable import say_why
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.roster import Roster
from stream.sinks.messages import Message
from stream.snapshot import CheckMade, Outcome
from stream.wire import ForceMessage, Packet, encode_force
from tests.monitor.fakes import Rig
from tests.monitor.fakes import record as fake_record
from tests.monitor.test_monitor_link import serving
from tests.robustness.bullpen import LAYOUT, SOURCE, invented
from tests.transport.feeds import Listener
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import eventually, free_port


def test_every_sentence_is_on_the_page_with_its_test() -> None:
    assert PAGE.read_text() == page(), "python -m docs.make_states"


def test_the_tests_that_the_page_names_are_there() -> None:
    for test in set(make_states.tests().values()):
        file, _, name = test.partition("::")
        assert re.search(rf"def {name}\(", (ROOT / file).read_text()), test


# The feed.


def test_before_the_first_message() -> None:
    assert [s.text for s in Pipeline(SOURCE, LAYOUT).snapshot(0).sentences][:1] == [
        "No feed yet. Switch the mound's device on and check its address and cable."
    ]


def steady(loads: list[float], seconds: float = 20.0) -> list[str]:
    """Return what is said of the zero while ``loads`` (N) lie on the deck one after the other."""
    core = Pipeline(SOURCE, LAYOUT)
    rng, frame, said = np.random.default_rng(3), 0, []
    for load in loads:
        for _ in range(round(seconds * 10)):
            samples = rng.normal(0.0, 0.5, (20, 12)).astype(np.float32)
            samples[:, 2] += load
            message = ForceMessage(SOURCE, "s", frame, frame * 5_000_000, 200.0, samples)
            packet = Packet(f"moundfeed/{SOURCE}/force", encode_force(message), frame * 5_000_000)
            said += [o.say for o in core.receive(packet) if isinstance(o, ZeroLearnt)]
            frame += 20
    return said


def test_what_lies_on_the_deck_is_told() -> None:
    said = steady([0.0, 60.0, 120.0, 60.0, 0.0])
    assert said[0] == "The empty deck's zero has been taken."
    assert re.match(r"A steady load of 60 N was put on the deck; 60 N in all is taken out", said[1])
    assert re.match(r"A steady load of 60 N was put on the deck; 120 N in all", said[2])
    assert re.match(r"60 N of steady load left the deck; 60 N is still taken out\.", said[3])
    assert re.match(r"The steady load of 60 N is gone; the zero is back where it was", said[4])


async def test_a_broker_that_goes_is_told(broker: Mosquitto) -> None:
    async with Listener(broker.url) as listener:
        await eventually(lambda: listener.heard("Connected to"))
        broker.stop()
        await eventually(lambda: listener.heard("The connection to the broker at"))


async def test_what_is_no_feed_is_told() -> None:
    port = free_port()
    with zmq.Context() as context, context.socket(zmq.PUB) as device:
        device.linger = 0
        device.curve_publickey, device.curve_secretkey = zmq.curve_keypair()
        device.curve_server = True
        device.bind(f"tcp://127.0.0.1:{port}")
        async with Listener(f"tcp://127.0.0.1:{port}") as listener:
            await eventually(lambda: listener.heard("does not understand us"))


# Recording and files.


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "The disk is full. Free some space"),
        (errno.EFBIG, "The file has reached the largest size allowed here. Raise the limit"),
        (errno.EROFS, "The disk has become read-only. Check the disk"),
        (errno.EIO, "The disk reports an error. Check the disk and its cable"),
        (errno.ENOENT, "Its folder is gone. Put it back where it was"),
        (errno.EPERM, "The disk refuses (Operation not permitted). Check the disk"),
    ],
)
def test_why_a_disk_does_not_take_it(number: int, says: str) -> None:
    assert say_why(OSError(number, "")) == says


def test_a_damaged_recording_says_what_is_missing(tmp_path: Path) -> None:
    scenario = compose(Plan(seed=3, pitches=1, pitchers=1, quick=True), LAYOUT.deck)
    sent = (packed(m, 10**18) for m in messages(scenario, LAYOUT, Device(), None, 10**18))
    file = tmp_path / "r.mcap"
    record(file, sent, scenario, LAYOUT)
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 0x55
    file.write_bytes(data)
    recording = read_recording(file)
    for _ in recording.batches():
        pass
    said = recording.report.sentences()
    assert said[0].startswith("The recording is damaged: ")
    assert re.match(r"\d+ recorded messages cannot be read any more\.", said[-1])


# The monitor.


async def test_an_action_for_a_mound_that_was_never_heard() -> None:
    async with Rig(lambda source: Pipeline(source, LAYOUT)) as rig:
        note = b'{"v":1,"source":"mound-a","t_ns":1,"action":"note","number":1,"text":""}'
        said = rig.monitor.act(Packet("moundfeed/mound-a/operator", note, 1))
    assert said == "Mound 'mound-a' has not been heard yet; nothing was changed."


def test_published_messages_that_nobody_took() -> None:
    class NoBroker:
        address, dropped, trouble = "mqtt://h:1", 3, None

        def offer(self, message: Message) -> None: ...
        async def run(self) -> None: ...
        async def finish(self) -> None: ...
        def close(self) -> None: ...

    (said,) = words.of_publisher(NoBroker())
    assert said.text.startswith("3 published messages found no broker and were given up.")


def test_a_session_without_a_passed_check_says_so() -> None:
    core = Pipeline(SOURCE, LAYOUT)
    for topic, payload in invented()[:3]:
        core.receive(Packet(topic, payload, 1))
    now = core.snapshot(1)
    (none,) = words.of_check(now)
    assert none.text.endswith("Make one before the first pitch.")
    failed = CheckMade(
        ok=False, by="", age_s=None, say="The deck is not ready.", found=[], outcome=Outcome.FAILED
    )
    (bad,) = words.of_check(msgspec.structs.replace(now, checked=failed))
    assert bad.text == "The deck is not ready. Put right what it found and make it again."


def test_a_recording_that_was_cut_off_and_cannot_be_measured(tmp_path: Path) -> None:
    session = Session.create(
        tmp_path / "s", source=SOURCE, layout_text="", settings_text="", roster=Roster()
    )
    (tmp_path / "s" / "recording-001.mcap").write_bytes(b"not a recording at all")
    (notice,) = take_up(session, Roster(), 0).notices
    assert "its recording cannot be measured again" in notice.text
    assert "keep recording-001.mcap" in notice.text


# The screen and its actions.


def test_a_pitch_that_is_too_far_back_to_be_given_to_another() -> None:
    book = Book(SOURCE, 1)
    book.recall(fake_record(4))
    (said,) = book.act(Reassign(source=SOURCE, t_ns=1, number=4, pitcher="P02"))
    assert isinstance(said, Fault)
    assert said.say.startswith("Pitch 4 is too far back to be measured anew for 'P02'")


async def test_a_monitor_that_was_stopped() -> None:
    folder = runtime_folder("stopped")
    async with serving(folder) as server, ViewerLink(folder) as link:
        await eventually(lambda: link.latest)
        server.silent = True
        server.view.alive(server.sources, [], stopping=True)
        await eventually(lambda: link.lost)
        assert link.lost_say.startswith("The monitor was stopped: nothing is received or recorded")


async def test_a_screen_whose_link_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    folder = runtime_folder("fails")
    async with serving(folder), ViewerLink(folder) as link:
        await eventually(lambda: link.latest)

        def fails(parts: list[bytes]) -> None:
            raise RuntimeError("planted")

        monkeypatch.setattr(link, "_take_view", fails)
        await eventually(lambda: link.lost)
        assert link.lost_say == "This screen lost its link (planted). Close it and open it."
        link._task = asyncio.create_task(asyncio.sleep(0))


async def test_a_monitor_that_does_not_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(viewer, "_ANSWER_S", 0.2)
    folder = runtime_folder("dumb")
    async with serving(folder) as server, ViewerLink(folder) as link:
        await eventually(lambda: link.latest)
        monkeypatch.setattr(server.view, "_answer", lambda *_: None)
        said = await link.act(Note(source=SOURCE, t_ns=1, number=1, text=""))
        assert said is not None
        assert said.startswith("The monitor did not answer; it is not known whether this was done")


async def test_what_the_operate_endpoint_refuses() -> None:
    context = zmq.asyncio.Context()
    base = f"inproc://{free_port()}"
    server = ViewServer(context, [f"{base}-{name}" for name in ("view", "ask", "operate")])
    running = asyncio.create_task(server.run())
    screen = context.socket(zmq.DEALER)
    screen.connect(f"{base}-operate")

    async def said(action: bytes) -> str:
        await screen.send_multipart([b"1", action])
        return (await asyncio.wait_for(screen.recv_multipart(), 30))[1].decode()

    note = b'{"v":1,"source":"mound-a","t_ns":1,"action":"note","number":1,"text":""}'
    assert await said(note) == "This monitor takes no actions."
    assert (await said(b"{}")).startswith("This was not done: ")
    running.cancel()
    await asyncio.wait({running})
    screen.close(0)
    server.close()
    context.term()


def test_lost_frames_are_told_with_what_to_do() -> None:
    core = Pipeline(SOURCE, LAYOUT)
    feed = [message for message in invented() if message[0].endswith("/force")]
    for topic, payload in [*feed[:40], *feed[45:80]]:
        core.receive(Packet(topic, payload, 1))
    (said,) = [s.text for s in core.watchman.sentences(1) if s.key == "lost"]
    assert said.startswith("40 frames were lost in a gap within 20 s; a pitch with a hole loses")
