"""The device process over real sockets and a real broker."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import aiomqtt
import pytest
import zmq
import zmq.asyncio

from simulators.device import send_mqtt, send_zeromq
from simulators.feed import Device, Sent, messages, packed
from simulators.scenes import empty
from stream.access.address import parse_address
from stream.access.broker import BrokerTrouble
from stream.access.curve import client_keys, make_keys
from stream.access.options import ConnectionOptions
from tests.simulators.simulated import layout
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import DEADLINE_S, eventually, free_port

_COUNT = 400


def _begin() -> Iterator[Sent]:
    timed = messages(empty(1, 60.0), layout(), Device())
    return (packed(item) for item in islice(timed, _COUNT))


def _expected() -> list[bytes]:
    return [sent.payload for sent in _begin()]


async def _take(socket: zmq.asyncio.Socket, count: int) -> list[bytes]:
    async with asyncio.timeout(DEADLINE_S):
        return [(await socket.recv_multipart())[1] for _ in range(count)]


@pytest.mark.parametrize("speed", [None, 50.0])
async def test_a_monitor_that_comes_late_gets_the_first_frame(speed: float | None) -> None:
    url, said = f"tcp://127.0.0.1:{free_port()}", list[str]()
    options = ConnectionOptions()
    device = asyncio.create_task(
        send_zeromq(parse_address(url), options, _begin, speed, DEADLINE_S, said.append)
    )
    await eventually(lambda: said, "the device listens")
    with zmq.asyncio.Context() as context, context.socket(zmq.SUB) as monitor:
        monitor.linger = 0
        monitor.connect(url)
        monitor.subscribe(b"moundfeed/")
        assert await _take(monitor, _COUNT) == _expected()
        await device
    assert said == ["waiting for a monitor to connect", "sending"]


async def test_a_slow_monitor_loses_nothing_at_full_speed() -> None:
    url, said = f"tcp://127.0.0.1:{free_port()}", list[str]()
    device = asyncio.create_task(
        send_zeromq(parse_address(url), ConnectionOptions(), _begin, None, DEADLINE_S, said.append)
    )
    with zmq.asyncio.Context() as context, context.socket(zmq.SUB) as monitor:
        monitor.linger = 0
        monitor.rcvhwm = 5
        monitor.connect(url)
        monitor.subscribe(b"moundfeed/")
        await eventually(lambda: "sending" in said, "the device sends")
        assert await _take(monitor, _COUNT) == _expected()
        await device


async def test_the_wait_for_a_monitor_is_bounded() -> None:
    url, said = f"tcp://127.0.0.1:{free_port()}", list[str]()
    async with asyncio.timeout(DEADLINE_S):
        await send_zeromq(parse_address(url), ConnectionOptions(), _begin, None, 0.05, said.append)
    assert any("nobody connected" in text for text in said)


async def test_an_address_in_use_is_an_error_that_names_it() -> None:
    with zmq.Context() as context, context.socket(zmq.PUB) as other:
        port = other.bind_to_random_port("tcp://127.0.0.1")
        url = f"tcp://127.0.0.1:{port}"
        with pytest.raises(OSError, match=str(port)):
            await send_zeromq(
                parse_address(url), ConnectionOptions(), _begin, None, 1.0, lambda _: None
            )


async def test_keys_let_a_monitor_in(tmp_path: Path) -> None:
    make_keys(tmp_path / "keys", ["monitor"])
    url, said = f"tcp://127.0.0.1:{free_port()}", list[str]()
    options = ConnectionOptions(keys=str(tmp_path / "keys" / "server"))
    device = asyncio.create_task(
        send_zeromq(parse_address(url), options, _begin, None, DEADLINE_S, said.append)
    )
    with zmq.asyncio.Context() as context, context.socket(zmq.SUB) as monitor:
        monitor.linger = 0
        client_keys(tmp_path / "keys" / "monitor").apply(monitor)
        monitor.connect(url)
        monitor.subscribe(b"moundfeed/")
        assert await _take(monitor, _COUNT) == _expected()
        await device


async def test_a_broker_passes_everything_on(broker: Mosquitto) -> None:
    async with (
        asyncio.timeout(DEADLINE_S),
        aiomqtt.Client("127.0.0.1", broker.port) as listener,
    ):
        await listener.subscribe("moundfeed/#", qos=1)
        said = list[str]()
        await send_mqtt(parse_address(broker.url), ConnectionOptions(), _begin, None, said.append)
        got = [bytes((await anext(listener.messages)).payload) for _ in range(_COUNT)]
    assert got == _expected()
    assert said == ["sending"]


async def test_without_a_broker_it_says_so() -> None:
    address = parse_address(f"mqtt://127.0.0.1:{free_port()}")
    with pytest.raises(BrokerTrouble, match="No broker answers"):
        await send_mqtt(address, ConnectionOptions(), _begin, None, lambda _: None)


async def test_a_broker_that_goes_away_and_comes_back(broker: Mosquitto) -> None:
    said = list[str]()

    def forever() -> Iterator[Sent]:
        return (packed(item) for item in messages(empty(1, 600.0), layout(), Device()))

    device = asyncio.create_task(
        send_mqtt(parse_address(broker.url), ConnectionOptions(), forever, 10.0, said.append)
    )
    await eventually(lambda: "sending" in said, "the device sends")
    broker.stop()
    await eventually(lambda: len(said) > 1, "the device says that the broker is away")
    broker.start()
    await eventually(lambda: "the broker is back; sending again" in said, "it sends again")
    device.cancel()
    with pytest.raises(asyncio.CancelledError):
        await device
