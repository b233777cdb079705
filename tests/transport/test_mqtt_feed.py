from __future__ import annotations

import asyncio
import socket
from collections.abc import AsyncIterator
from contextlib import aclosing, asynccontextmanager

import aiomqtt
import pytest

from stream.access import broker as broker_module
from stream.access.address import parse_address
from stream.access.broker import Broker, Connection
from stream.access.options import ConnectionOptions
from stream.snapshot import Level
from stream.sources import open_source
from tests.transport.feeds import BLOCK, Listener, force, frames
from tests.transport.mosquitto import Mosquitto
from tests.transport.proxy import Cable
from tests.transport.waiting import eventually

TOPIC = "moundfeed/mound-a/force"


@asynccontextmanager
async def device(broker: Mosquitto) -> AsyncIterator[Connection]:
    async with Broker(parse_address(broker.url), ConnectionOptions()).connect() as connection:
        yield connection


async def test_every_block_comes_in_order_at_each_quality_of_service(broker: Mosquitto) -> None:
    for qos in (0, 1, 2):
        async with Listener(broker.url, ConnectionOptions(qos=qos)) as listener:
            await eventually(lambda listener=listener: listener.heard("Connected"))  # type: ignore[misc]
            async with device(broker) as sender:
                for number in range(200):
                    await sender.publish(TOPIC, force(number), qos)
            await eventually(lambda listener=listener: len(listener.packets) == 200)  # type: ignore[misc]
            assert frames(listener.packets) == list(range(0, 200 * BLOCK, BLOCK))
            assert listener.packets[7].payload == force(7), "byte for byte"


@pytest.mark.fault(
    "the broker is stopped and started again",
    "it is said; the feed is subscribed to again by itself",
)
async def test_a_broker_that_restarts_is_subscribed_to_again(broker: Mosquitto) -> None:
    async with Listener(broker.url) as listener:
        for life in (1, 2, 3):
            await eventually(
                lambda life=life: sum(s.level is Level.INFO for s in listener.said) == life  # type: ignore[misc]
            )
            async with device(broker) as sender:
                await sender.publish(TOPIC, force(life), 1)
            await eventually(lambda life=life: len(listener.packets) == life)  # type: ignore[misc]
            broker.stop()
            await eventually(lambda: listener.said[-1].level is Level.ALARM)
            broker.start()
    assert frames(listener.packets) == [BLOCK, 2 * BLOCK, 3 * BLOCK]
    assert "Check" in next(s.text for s in listener.said if s.level is Level.ALARM)


@pytest.mark.fault(
    "the broker is not there yet",
    "it is said and waited for",
)
async def test_a_broker_that_is_not_there_yet_is_waited_for(broker: Mosquitto) -> None:
    broker.stop()
    async with Listener(broker.url) as listener:
        await eventually(lambda: listener.heard("No broker answers"))
        broker.start()
        await eventually(lambda: listener.heard("Connected"))


@pytest.mark.fault(
    "the network cable is pulled and put back (MQTT)",
    "the broker keeps what came meanwhile; nothing is lost",
)
async def test_what_comes_while_the_cable_is_out_is_kept_by_the_broker(broker: Mosquitto) -> None:
    cable = Cable(broker.port)
    await cable.plug()
    async with Listener(f"mqtt://127.0.0.1:{cable.port}") as listener, device(broker) as sender:
        await eventually(lambda: listener.heard("Connected"))
        await sender.publish(TOPIC, force(0), 1)
        await eventually(lambda: len(listener.packets) == 1)
        await cable.cut()
        for number in range(1, 50):
            await sender.publish(TOPIC, force(number), 1)
        await eventually(lambda: listener.said[-1].level is Level.ALARM)
        await cable.plug()
        await eventually(lambda: len(listener.packets) == 50)
        assert frames(listener.packets) == list(range(0, 50 * BLOCK, BLOCK))
    await cable.cut()


@pytest.mark.fault(
    "the broker answers nothing at all",
    "no socket is leaked while it is tried again",
)
async def test_a_broker_that_says_nothing_costs_no_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    """It accepts and is silent; each attempt must close what it opened."""
    monkeypatch.setattr(broker_module, "ANSWER_S", 0.3)
    opened, ended = [], []

    async def silent(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        opened.append(reader)
        await reader.read()
        ended.append(reader)
        writer.close()

    server = await asyncio.start_server(silent, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    async with Listener(f"mqtt://127.0.0.1:{port}") as listener:
        await eventually(lambda: len(opened) >= 3, "it tries again and again")
        assert ended, "what an attempt opened is closed before the next but one"
        assert listener.heard("is gone")
    server.close()


@pytest.mark.fault(
    "more comes at once than can be taken",
    "the oldest messages give way and each is counted",
)
async def test_too_much_at_once_drops_the_oldest_and_counts(broker: Mosquitto) -> None:
    source = open_source(broker.url, ConnectionOptions(queue=16), lambda sentence: None)
    async with aclosing(source.batches()) as batches, device(broker) as sender:
        first = asyncio.ensure_future(anext(batches))
        await asyncio.sleep(0)
        while not first.done():  # until the subscription holds
            await sender.publish(TOPIC, force(0), 1)
        await first
        for number in range(1, 101):
            await sender.publish(TOPIC, force(number), 1)
        # Nobody takes anything now; the rest is dropped as it comes.
        await eventually(lambda: source.dropped >= 80)
        kept = frames(await anext(batches))
        assert kept[-1] == 100 * BLOCK, "the newest is there"
        assert len(kept) <= 16


async def test_its_socket_does_not_wait_for_acknowledgements(broker: Mosquitto) -> None:
    async with device(broker) as sender:
        sock = sender._client._client.socket()
        assert isinstance(sock, socket.socket)
        assert sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


async def test_a_farewell_that_fails_does_not_undo_a_stop(
    broker: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker dies while we are being stopped: that must not become another attempt."""

    async def fails(*_: object) -> None:
        raise aiomqtt.MqttError("broken pipe")

    monkeypatch.setattr(aiomqtt.Client, "__aexit__", fails)
    async with Listener(broker.url) as listener:
        await eventually(lambda: listener.heard("Connected"))
        listener._task.cancel()
        await eventually(listener._task.done)
        assert listener._task.cancelled()
