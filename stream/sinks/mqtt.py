"""Publishes through an MQTT broker."""

from __future__ import annotations

import asyncio
from collections import deque

from stream.access.address import Address
from stream.access.broker import FIRST_WAIT_S, LONGEST_WAIT_S, Broker, BrokerTrouble, Connection
from stream.access.options import ConnectionOptions
from stream.sinks.messages import Message
from stream.wire import TopicKind

_WAITING = 1000
_FAREWELL_S = 2.0


class MqttPublisher:
    """Publishes one message after the other; keeps pitches while the broker is away.

    Health and foot contacts are worth something at once or not at all: while
    there is no broker they are dropped and counted. Health goes with QoS 0,
    the rest with the QoS of the options, and the session's message is kept by
    the broker.
    """

    def __init__(self, address: Address, options: ConnectionOptions) -> None:
        self._broker = Broker(address, options)
        self._qos = options.qos
        self._waiting: deque[Message] = deque()
        self._more = asyncio.Event()
        self._empty = asyncio.Event()
        self._empty.set()
        self._connected = False
        self._sessions: dict[str, Message] = {}
        self._dropped = 0
        self._trouble: str | None = None

    @property
    def address(self) -> str:
        """The broker."""
        return str(self._broker.address)

    @property
    def dropped(self) -> int:
        """Messages that were never published."""
        return self._dropped

    @property
    def trouble(self) -> str | None:
        """What keeps it from publishing, or None."""
        return self._trouble

    def offer(self, message: Message) -> None:
        """Take a message to publish."""
        if message.retain:
            self._sessions[message.topic] = message
            if not self._connected:
                return  # the next connection begins with it
        if not self._connected and message.kind is not TopicKind.PITCH:
            self._dropped += 1
            return
        if len(self._waiting) >= _WAITING:
            self._waiting.popleft()
            self._dropped += 1
        self._waiting.append(message)
        self._empty.clear()
        self._more.set()

    async def run(self) -> None:
        """Publish until cancelled, whatever the broker does."""
        wait = FIRST_WAIT_S
        while True:
            try:
                async with self._broker.connect() as connection:
                    for session in list(self._sessions.values()):
                        await self._send(connection, session)
                    self._connected, self._trouble, wait = True, None, FIRST_WAIT_S
                    await self._publish(connection)
            except BrokerTrouble as trouble:
                self._trouble = f"Results are not being published. {trouble}"
            finally:
                self._connected = False
            await asyncio.sleep(wait)
            wait = min(2 * wait, LONGEST_WAIT_S)

    async def finish(self) -> None:
        """Give what waits a moment to leave."""
        if not self._connected:
            self._dropped += len(self._waiting)
            return
        try:
            async with asyncio.timeout(_FAREWELL_S):
                await self._empty.wait()
        except TimeoutError:
            self._dropped += len(self._waiting)

    def close(self) -> None:
        """Nothing to close: the connection ended with :meth:`run`."""

    async def _publish(self, connection: Connection) -> None:
        while True:
            await connection.wait_for(self._more)
            self._more.clear()
            while self._waiting:
                message = self._waiting[0]
                await self._send(connection, message)
                # Only now: what a breaking connection swallowed is sent again.
                if self._waiting and self._waiting[0] is message:
                    self._waiting.popleft()
            self._empty.set()

    async def _send(self, connection: Connection, message: Message) -> None:
        qos = 0 if message.kind is TopicKind.HEALTH else self._qos
        await connection.publish(message.topic, message.payload, qos, message.retain)
