"""A feed that comes straight from the device over ZeroMQ (PUB there, SUB here)."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator, Callable
from pathlib import Path
from typing import Self

import zmq
from zmq.utils.monitor import parse_monitor_message

from stream.access.address import Address
from stream.access.curve import client_keys
from stream.access.options import ConnectionOptions
from stream.snapshot import Level, Sentence
from stream.sources.source import CONNECTION, MOST_AT_ONCE, Tell, belongs
from stream.wire import MAX_PAYLOAD_BYTES, TOPIC_ROOT, Packet

#: Messages that may wait in ZeroMQ: 50 s of ten-frame blocks. It drops beyond that without a
#: word, and the frame indices of what follows tell how much.
_WAITING = 1000
_EVENTS = (
    zmq.EVENT_HANDSHAKE_SUCCEEDED
    | zmq.EVENT_DISCONNECTED
    | zmq.EVENT_CLOSED
    | zmq.EVENT_CONNECT_RETRIED
    | zmq.EVENT_HANDSHAKE_FAILED_NO_DETAIL
    | zmq.EVENT_HANDSHAKE_FAILED_PROTOCOL
    | zmq.EVENT_HANDSHAKE_FAILED_AUTH
)
_PARTS = 2
#: Messages that come closer than this are quick, s: what follows is awaited and taken together,
#: because waking up costs more than what is done with a message.
QUICK_S = 0.007
TOGETHER_S = 0.010


class ZeroMqSource:
    """Connects to the device, and again whenever it comes back."""

    def __init__(self, address: Address, options: ConnectionOptions, tell: Tell) -> None:
        self._address = address
        self._source = options.source
        self._keys = client_keys(Path(options.keys)) if options.keys else None
        self._tell = tell
        self._left_out = 0

    @property
    def address(self) -> str:
        """Where the feed comes from, fit to be shown."""
        return str(self._address)

    @property
    def dropped(self) -> int:
        """Always 0: what ZeroMQ drops is counted as lost frames by their index."""
        return 0

    @property
    def left_out(self) -> int:
        """Messages that are no force or speed message of a wanted mound."""
        return self._left_out

    async def batches(self) -> AsyncGenerator[list[Packet], None]:
        """Yield what waits now, again and again."""
        with (
            zmq.Context() as context,
            self._socket(context) as socket,
            socket.get_monitor_socket(_EVENTS) as events,
            _Descriptor(events) as said,
            _Descriptor(socket) as came,
        ):
            socket.connect(str(self._address))
            said.watch(lambda: self._hear(events))
            self._hear(events)  # a descriptor tells only what comes after a look that found nothing
            last = 0.0
            try:
                while True:
                    batch, more = self._take(socket)
                    if batch:
                        yield batch
                    before, last = last, time.monotonic() if batch else last
                    if more:
                        await asyncio.sleep(0)
                    elif len(batch) > 1 or (batch and last - before < QUICK_S):
                        came.leave()
                        await asyncio.sleep(TOGETHER_S)
                    else:
                        await came.news()
            finally:
                socket.disable_monitor()

    def _hear(self, events: zmq.Socket[bytes]) -> None:
        while _waits(events):
            self._say(int(parse_monitor_message(events.recv_multipart(zmq.NOBLOCK))["event"]))

    def _socket(self, context: zmq.Context[zmq.Socket[bytes]]) -> zmq.Socket[bytes]:
        socket = context.socket(zmq.SUB)
        socket.linger = 0
        socket.rcvhwm = _WAITING
        socket.maxmsgsize = MAX_PAYLOAD_BYTES
        socket.ipv6 = ":" in self._address.host
        # A pulled cable closes no connection; without heartbeats it would look alive for hours.
        socket.heartbeat_ivl = 1000
        socket.heartbeat_timeout = 3000
        socket.reconnect_ivl = 100
        socket.reconnect_ivl_max = 2000
        if self._keys is not None:
            self._keys.apply(socket)
        socket.subscribe(f"{TOPIC_ROOT}/{self._source}/" if self._source else f"{TOPIC_ROOT}/")
        return socket

    def _take(self, socket: zmq.Socket[bytes]) -> tuple[list[Packet], bool]:
        """Return the mound's messages that wait, and whether there may be more."""
        batch: list[Packet] = []
        for _ in range(MOST_AT_ONCE):
            if not _waits(socket):
                return batch, False
            parts = socket.recv_multipart(zmq.NOBLOCK)
            topic = parts[0].decode(errors="replace")
            if len(parts) == _PARTS and belongs(topic, self._source):
                batch.append(Packet(topic, parts[1], time.time_ns()))
            else:
                self._left_out += 1
        return batch, True

    def _say(self, event: int) -> None:
        where = self._address
        match event:
            case zmq.EVENT_HANDSHAKE_SUCCEEDED:
                level, text = Level.INFO, f"Connected to {where}."
            case zmq.EVENT_DISCONNECTED:
                level = Level.ALARM
                text = (
                    f"The device at {where} has gone. Check its power and its cable; it is "
                    "connected again by itself as soon as it is back."
                )
            case zmq.EVENT_HANDSHAKE_FAILED_AUTH:
                level = Level.ALARM
                text = (
                    f"The device at {where} refuses our key. Give it the key of this computer "
                    "(its folder 'authorised'), or use the right folder with --keys."
                )
            case zmq.EVENT_HANDSHAKE_FAILED_PROTOCOL | zmq.EVENT_HANDSHAKE_FAILED_NO_DETAIL:
                level = Level.ALARM
                text = (
                    f"What answers at {where} does not understand us: it is no mound's feed, or "
                    "one of the two uses keys and the other does not (--keys)."
                )
            case _:
                level = Level.ALARM
                text = (
                    f"Nobody answers at {where}. Check that the device is on and that address and "
                    "port are right; trying again."
                )
        self._tell(Sentence(level, CONNECTION, text))


def _waits(socket: zmq.Socket[bytes]) -> bool:
    """Whether a message can be read now."""
    return bool(int(socket.get(zmq.EVENTS)) & zmq.POLLIN)


class _Descriptor:
    """What the event loop is told by of a socket's news: once for all that waits.

    So the socket is read until nothing is left. (pyzmq's own asyncio sockets
    cost more than all that is done with a message.)
    """

    def __init__(self, socket: zmq.Socket[bytes]) -> None:
        self._socket = socket
        self._number = int(socket.get(zmq.FD))
        self._loop = asyncio.get_running_loop()
        self._came = asyncio.Event()
        self._watched = False

    def watch(self, then: Callable[[], object]) -> None:
        """Call ``then`` at every news."""
        self._loop.add_reader(self._number, then)
        self._watched = True

    async def news(self) -> None:
        """Wait for news."""
        if not self._watched:
            self.watch(self._look)
        await self._came.wait()
        self._came.clear()  # before the socket is read: what comes meanwhile is news again

    def _look(self) -> None:
        # The descriptor stays readable until the socket is asked: to be told once and not twice.
        if _waits(self._socket):
            self._came.set()

    def leave(self) -> None:
        """Be told of no news for a while."""
        if self._watched:
            self._loop.remove_reader(self._number)
            self._watched = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.leave()
