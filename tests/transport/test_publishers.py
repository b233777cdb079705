from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
import zmq
import zmq.asyncio

from stream.access.address import AddressError, parse_address
from stream.access.broker import Broker
from stream.access.curve import client_keys, make_keys
from stream.access.options import ConnectionOptions
from stream.outputs import (
    FootContact,
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Pitch,
    PitchRecord,
)
from stream.sinks.messages import Message, health_message, message_of, session_message
from stream.sinks.publisher import Publisher, open_publisher
from stream.wire import Packet, TopicKind
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import eventually, free_port


def pitch(number: int) -> Message:
    record = PitchRecord("mound-a", "s1", number, "P03", "R", 1.5, {}, 880.0, {"drive_peak_bw": 1})
    message = message_of(Pitch(record, None))  # type: ignore[arg-type]
    assert message is not None
    return message


@asynccontextmanager
async def running(publisher: Publisher) -> AsyncIterator[Publisher]:
    task = asyncio.create_task(publisher.run())
    try:
        yield publisher
        assert not task.done(), "a publisher never ends by itself"
        await publisher.finish()
    finally:
        task.cancel()
        await asyncio.wait({task}, timeout=10)
        publisher.close()


def test_what_is_published_of_what_happens() -> None:
    contact = message_of(FootContact("mound-a", "s1", 10.5, 12, 880.0))
    assert contact is not None
    assert contact.topic == "moundfeed/mound-a/event"
    assert json.loads(contact.payload) == {
        "v": 1, "source": "mound-a", "stream": "s1", "event": "foot_contact", "frame": 10.5,
        "seen_frame": 12, "body_weight_n": 880.0,
    }  # fmt: skip
    assert pitch(7).topic == "moundfeed/mound-a/pitch"
    assert json.loads(pitch(7).payload)["number"] == 7
    record = NotCountedRecord("mound-a", "s1", NotCountedReason.STEP_OFF, 5.0, "stepped off")
    movement = message_of(NotCounted(record))
    assert movement is not None
    assert json.loads(movement.payload)["not_counted"] == "step_off"
    assert movement.kind is TopicKind.PITCH
    health = health_message("mound-a", {"frames": 3})
    assert json.loads(health.payload) == {"v": 1, "source": "mound-a", "frames": 3}
    assert session_message("mound-a", {}).retain
    assert not health.retain


async def read(broker: Mosquitto, topic: str, until: bytes) -> list[Packet]:
    got: list[Packet] = []
    async with Broker(parse_address(broker.url), ConnectionOptions()).connect() as reader:
        await reader.subscribe([topic])
        while not any(p.payload == until for p in got):
            got += await reader.take(100)
    return got


def of_pitches(packets: list[Packet]) -> list[int]:
    told = [bytes(packet.payload) for packet in packets if packet.topic.endswith("pitch")]
    return [json.loads(payload)["number"] for payload in told]


@pytest.mark.fault(
    "the broker restarts while results are published",
    "pitches wait and are published; nothing twice, nothing lost",
)
async def test_through_a_broker_and_across_its_restart(broker: Mosquitto) -> None:
    """Pitches wait for the broker; health of a moment ago does not; the session is kept there."""
    session = session_message("mound-a", {"session": "abc"})
    async with running(open_publisher(broker.url, ConnectionOptions())) as publisher:
        publisher.offer(session)
        assert (await read(broker, session.topic, session.payload))[-1].topic == session.topic

        watching = asyncio.create_task(read(broker, "moundfeed/+/pitch", pitch(3).payload))
        while not watching.done():  # it may not have subscribed yet
            publisher.offer(pitch(3))
            await asyncio.wait({watching}, timeout=0.02)

        broker.stop()
        await eventually(lambda: publisher.trouble)
        assert "not being published" in str(publisher.trouble)
        for number in range(10, 15):
            publisher.offer(pitch(number))
            publisher.offer(health_message("mound-a", {}))
        assert publisher.dropped == 5, "five healths, no pitch"
        broker.start()
        got: list[Packet] = []
        async with Broker(parse_address(broker.url), ConnectionOptions()).connect() as reader:
            await reader.subscribe(["moundfeed/#"])
            while len(of_pitches(got)) < 5:
                got += await reader.take(100)
        assert of_pitches(got) == [10, 11, 12, 13, 14]
        assert any(p.payload == session.payload for p in got), "the broker had forgotten it"
        await eventually(lambda: publisher.trouble is None)


@pytest.mark.fault(
    "there is never a broker for the results",
    "bounded memory; what was given up is counted",
)
async def test_a_broker_that_never_comes_costs_bounded_memory_and_is_counted() -> None:
    url = f"mqtt://127.0.0.1:{free_port()}"
    async with running(open_publisher(url, ConnectionOptions())) as publisher:
        for number in range(5000):
            publisher.offer(pitch(number))
        assert publisher.dropped == 4000
        await eventually(lambda: publisher.trouble)
        await publisher.finish()
        assert publisher.dropped == 5000, "at the end none of them has left"


async def test_over_zeromq_who_joins_later_learns_the_session() -> None:
    url = f"tcp://127.0.0.1:{free_port()}"
    async with running(open_publisher(url, ConnectionOptions())) as publisher:
        publisher.offer(session_message("mound-a", {"session": "abc"}))
        with zmq.asyncio.Context() as context, context.socket(zmq.SUB) as reader:
            reader.connect(url)
            reader.subscribe("moundfeed/mound-a/")
            topic, payload = await reader.recv_multipart()
            assert topic == b"moundfeed/mound-a/session"
            assert json.loads(payload)["session"] == "abc"
            publisher.offer(pitch(1))
            assert (await reader.recv_multipart())[1] == pitch(1).payload


@pytest.mark.fault(
    "who reads the results stops reading",
    "publishing never waits for him",
)
async def test_over_zeromq_a_stuck_reader_holds_nobody_up() -> None:
    url = f"tcp://127.0.0.1:{free_port()}"
    async with running(open_publisher(url, ConnectionOptions())) as publisher:
        publisher.offer(session_message("mound-a", {}))
        with zmq.asyncio.Context() as context:
            stuck, quick = context.socket(zmq.SUB), context.socket(zmq.SUB)
            for reader in (stuck, quick):
                reader.linger = 0
                reader.rcvhwm = 2
                reader.connect(url)
                reader.subscribe("moundfeed/")
                await reader.recv_multipart()
            quick.rcvhwm = 100_000
            large = Message("mound-a", TopicKind.PITCH, b"x" * 50_000)
            for _ in range(3000):
                publisher.offer(large)  # 150 MB: more than any buffer of the system takes
            publisher.offer(pitch(1))
            while (await quick.recv_multipart())[1] != pitch(1).payload:
                publisher.offer(pitch(1))
            stuck.close()
            quick.close()


async def test_over_zeromq_with_keys(tmp_path: Path) -> None:
    make_keys(tmp_path, ["tablet"])
    url = f"tcp://127.0.0.1:{free_port()}"
    options = ConnectionOptions(keys=str(tmp_path / "server"))
    async with running(open_publisher(url, options)) as publisher:
        publisher.offer(session_message("mound-a", {"session": "abc"}))
        with zmq.asyncio.Context() as context:
            stranger, known = context.socket(zmq.SUB), context.socket(zmq.SUB)
            client_keys(tmp_path / "tablet").apply(known)
            for reader in (stranger, known):
                reader.linger = 0
                reader.subscribe("moundfeed/")
                reader.connect(url)
            assert (await known.recv_multipart())[0] == b"moundfeed/mound-a/session"
            publisher.offer(pitch(1))
            await known.recv_multipart()
            assert not await stranger.poll(0)
            stranger.close()
            known.close()


async def test_it_listens_on_the_loopback_unless_told_otherwise() -> None:
    with pytest.raises(AddressError, match="--open-to-network"):
        open_publisher(f"tcp://0.0.0.0:{free_port()}", ConnectionOptions())
    url = f"tcp://127.0.0.1:{free_port()}"
    async with running(open_publisher(url, ConnectionOptions())):
        with pytest.raises(OSError, match="in use"):
            open_publisher(url, ConnectionOptions())
