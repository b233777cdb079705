"""Publishes over ZeroMQ: listens, and whoever is let in may subscribe."""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path

import zmq
import zmq.asyncio

from stream.access.address import Address
from stream.access.curve import Doorkeeper, server_keys
from stream.access.options import ConnectionOptions
from stream.sinks.messages import Message

#: Messages that may wait for one slow subscriber; what he misses beyond that, the numbers of the
#: pitches tell him.
_WAITING = 1000


class ZeroMqPublisher:
    """A listening XPUB socket; the session's message is repeated for each who joins."""

    def __init__(self, address: Address, options: ConnectionOptions) -> None:
        self._address = address
        self._context = zmq.asyncio.Context()
        self._doorkeeper: Doorkeeper | None = None
        self._kept: dict[str, Message] = {}
        self._socket = self._context.socket(zmq.XPUB)
        self._socket.linger = 0
        self._socket.sndhwm = _WAITING
        self._socket.ipv6 = ":" in address.host
        self._socket.set(zmq.XPUB_VERBOSE, 1)
        self._plain: zmq.Socket[bytes] = zmq.Socket.shadow(self._socket.underlying)
        try:
            if options.keys:
                keys = server_keys(Path(options.keys))
                self._doorkeeper = Doorkeeper(self._context, keys.authorised)
                keys.apply(self._socket)
            self._socket.bind(str(address))
        except BaseException as error:
            self._close()
            if isinstance(error, zmq.ZMQError):
                raise OSError(error.errno, error.strerror, str(address)) from None
            raise

    @property
    def address(self) -> str:
        """Where it listens."""
        return str(self._address)

    @property
    def dropped(self) -> int:
        """Always 0: ZeroMQ drops for each slow subscriber apart, and pitches are numbered."""
        return 0

    @property
    def trouble(self) -> str | None:
        """Nothing that is known on this side."""
        return None

    def offer(self, message: Message) -> None:
        """Send to all who are there."""
        if message.retain:
            self._kept[message.topic] = message
        self._send(message)

    async def run(self) -> None:
        """Greet those who join."""
        async with asyncio.TaskGroup() as tasks:
            if self._doorkeeper is not None:
                tasks.create_task(self._doorkeeper.run(), name="doorkeeper of the publisher")
            while True:
                request = await self._socket.recv()
                if request[:1] == b"\x01":
                    wanted = request[1:].decode(errors="replace")
                    for topic, message in self._kept.items():
                        if topic.startswith(wanted) or wanted.startswith(topic):
                            self._send(message)

    async def finish(self) -> None:
        """Nothing to wait for: ZeroMQ has it."""

    def close(self) -> None:
        """Close; what was handed to ZeroMQ has a second to leave."""
        self._close(linger_ms=1000)

    def _send(self, message: Message) -> None:
        with contextlib.suppress(zmq.Again):
            self._plain.send_multipart([message.topic.encode(), message.payload], zmq.NOBLOCK)

    def _close(self, linger_ms: int = 0) -> None:
        if self._doorkeeper is not None:
            self._doorkeeper.close()
        self._socket.close(linger_ms)
        self._context.term()
