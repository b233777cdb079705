"""The device process: sends a session at its own pace, over ZeroMQ or to an MQTT broker."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator
from pathlib import Path
from typing import Any, Protocol, TypeVar

import zmq
import zmq.asyncio

from stream.access.address import Address, Scheme, check_listen
from stream.access.broker import Broker, BrokerTrouble, Connection
from stream.access.curve import Doorkeeper, server_keys
from stream.access.options import ConnectionOptions

Say = Callable[[str], None]


class Due(Protocol):
    """A message and when it is to be sent, ``time`` s."""

    @property
    def time(self) -> float:
        """Seconds from any one moment."""

    @property
    def topic(self) -> str:
        """Where it goes."""

    @property
    def payload(self) -> bytes:
        """What it is."""


Item = TypeVar("Item", bound=Due)

_SHORTEST_SLEEP_S = 0.0005
_BREATHE_EVERY = 64
_JOIN_S = 0.15
_LINGER_MS = 3000
_AGAIN_S = 0.5


async def paced(items: Iterator[Item], speed: float | None) -> AsyncIterator[Item]:
    """Yield each message when it is due, on an absolute schedule; ``speed`` None: at once."""
    loop = asyncio.get_running_loop()
    start, first = loop.time(), 0.0
    for count, item in enumerate(items):
        if count == 0:
            first = item.time
        if speed is None:
            if count % _BREATHE_EVERY == 0:
                await asyncio.sleep(0)
        else:
            wait = start + (item.time - first) / speed - loop.time()
            if wait > _SHORTEST_SLEEP_S:
                await asyncio.sleep(wait)
        yield item


def send(
    address: Address,
    options: ConnectionOptions,
    begin: Callable[[], Iterator[Due]],
    speed: float | None,
    wait_s: float,
    say: Say,
    *,
    open_to_network: bool,
) -> Coroutine[Any, Any, None]:
    """Return the work of sending to ``address``; raise AddressError where it may not be."""
    match address.scheme:
        case Scheme.MQTT | Scheme.MQTTS:
            return send_mqtt(address, options, begin, speed, say)
        case Scheme.TCP | Scheme.IPC:
            address = check_listen(address, open_to_network)
            return send_zeromq(address, options, begin, speed, wait_s, say)


async def send_zeromq(
    address: Address,
    options: ConnectionOptions,
    begin: Callable[[], Iterator[Due]],
    speed: float | None,
    wait_s: float,
    say: Say,
) -> None:
    """Listen, wait for a subscriber (at most ``wait_s``), then send all that ``begin`` returns.

    Raise OSError where the address cannot be listened on.
    """
    context = zmq.asyncio.Context()
    doorkeeper = server = None
    if options.keys:
        server = server_keys(Path(options.keys))
        doorkeeper = Doorkeeper(context, server.authorised)
    socket = context.socket(zmq.XPUB)
    socket.sndhwm = 20_000
    socket.ipv6 = ":" in address.host
    if speed is None:
        # As fast as the subscriber takes it: wait for him instead of dropping.
        socket.set(zmq.XPUB_NODROP, 1)
    try:
        if server is not None:
            server.apply(socket)
        try:
            socket.bind(str(address))
        except zmq.ZMQError as error:
            raise OSError(error.errno, error.strerror, str(address)) from None
        async with asyncio.TaskGroup() as tasks:
            keeper = None
            if doorkeeper is not None:
                keeper = tasks.create_task(doorkeeper.run(), name="doorkeeper of the device")
            await _send_to_subscribers(socket, begin, speed, wait_s, say)
            if keeper is not None:
                keeper.cancel()
    finally:
        if doorkeeper is not None:
            doorkeeper.close()
        socket.close(_LINGER_MS)
        context.term()


async def _send_to_subscribers(
    socket: zmq.asyncio.Socket,
    begin: Callable[[], Iterator[Due]],
    speed: float | None,
    wait_s: float,
    say: Say,
) -> None:
    say("waiting for a monitor to connect")
    try:
        async with asyncio.timeout(wait_s):
            await socket.recv()
    except TimeoutError:
        say(f"nobody connected within {wait_s:g} s; sending all the same")
    # A subscriber asks for several topics one after the other.
    with contextlib.suppress(TimeoutError):
        while True:
            async with asyncio.timeout(_JOIN_S):
                await socket.recv()
    say("sending")
    async for item in paced(begin(), speed):
        await socket.send_multipart([item.topic.encode(), item.payload])


async def send_mqtt(
    address: Address,
    options: ConnectionOptions,
    begin: Callable[[], Iterator[Due]],
    speed: float | None,
    say: Say,
) -> None:
    """Send all that ``begin`` returns to a broker.

    What falls due while the broker is away is lost, as with a real device.
    Raise BrokerTrouble where it cannot be reached at all.
    """
    broker = Broker(address, options)
    items: AsyncIterator[Due] | None = None
    connected = False
    while True:
        try:
            async with broker.connect() as connection:
                say("sending" if not connected else "the broker is back; sending again")
                connected = True
                items = paced(begin(), speed) if items is None else items
                await _send_all(connection, items, options.qos)
                return
        except BrokerTrouble as trouble:
            if not connected or items is None:
                raise
            say(f"{trouble} What is due meanwhile is lost.")
            await _lose(items, _AGAIN_S)


async def _send_all(connection: Connection, items: AsyncIterator[Due], qos: int) -> None:
    async for item in items:
        await connection.publish(item.topic, item.payload, qos)
        # Python 3.11's wait_for, under aiomqtt's publish, drops a cancellation that meets the
        # broker's answer (mended in 3.12); the task still knows of it.
        task = asyncio.current_task()
        if task is not None and task.cancelling():
            raise asyncio.CancelledError


async def _lose(items: AsyncIterator[Due], duration: float) -> None:
    """Let messages pass unsent for ``duration`` s."""
    until = asyncio.get_running_loop().time() + duration
    async for _ in items:
        if asyncio.get_running_loop().time() >= until:
            return
