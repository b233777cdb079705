"""A connection to an MQTT 5 broker; the only file that knows aiomqtt and paho-mqtt."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import socket
import time
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any, cast

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from stream.access.address import Address, AddressError, Scheme
from stream.access.options import ConnectionOptions
from stream.access.secrets import PASSWORD_VARIABLE, password
from stream.access.tls import client_context
from stream.wire import Packet

#: A broker that is asked to keeps what came while the monitor was away for so long.
KEPT_FOR_S = 120
KEEPALIVE_S = 5
ANSWER_S = 5.0
FIRST_WAIT_S = 0.25
LONGEST_WAIT_S = 5.0
_REFUSED = 128


class BrokerTrouble(Exception):  # noqa: N818 - it is a peer's trouble, not an error of ours
    """The broker cannot be used just now; the text says why and what to do."""


class Inbox(asyncio.Queue[aiomqtt.Message]):
    """Messages that wait to be taken, stamped as they come; the oldest give way when it is full."""

    def __init__(self, size: int) -> None:
        super().__init__(size)
        self.dropped = 0

    def put_nowait(self, item: aiomqtt.Message) -> None:
        """Take ``item``, at the cost of the oldest if there is no room."""
        if self.full():
            self.get_nowait()
            self.dropped += 1
        item.received_ns = time.time_ns()  # type: ignore[attr-defined]
        super().put_nowait(item)


class Broker:
    """Where the broker is and how to be let in. One object for one client of it."""

    def __init__(self, address: Address, options: ConnectionOptions) -> None:
        """Read password and certificates; raise AddressError or SecretError."""
        self.address = address
        self.qos = options.qos
        #: Whether the broker need not prove who it is.
        self.unverified = address.scheme is Scheme.MQTTS and not options.verify
        self.inbox = Inbox(options.queue)
        word = password(Path(options.password_file) if options.password_file else None)
        self._word = word if address.user is not None else None
        if self._word is not None and address.scheme is Scheme.MQTT and not address.is_local:
            raise AddressError(
                f"the password would cross the network unprotected; write mqtts://{address.host} "
                "and give the broker a TLS listener"
            )
        if address.user is not None and word is None:
            raise AddressError(
                f"the user {address.user} needs a password: put it into {PASSWORD_VARIABLE} "
                "or into a file that only you can read (--password-file)"
            )
        self._tls = (
            client_context(Path(options.ca_file) if options.ca_file else None, options.verify)
            if address.scheme is Scheme.MQTTS
            else None
        )
        self._identifier = f"moundfeed-{secrets.token_hex(6)}"
        self._known_there = False

    @contextlib.asynccontextmanager
    async def connect(self, keep_s: int = 0) -> AsyncIterator[Connection]:
        """Connect for the time of the context; raise :class:`BrokerTrouble`.

        With ``keep_s`` the broker is asked to keep messages of QoS 1 and 2
        for this client while it is away.
        """
        properties: Any = cast(Any, Properties)(PacketTypes.CONNECT)
        properties.SessionExpiryInterval = keep_s
        client = aiomqtt.Client(
            self.address.host,
            self.address.port,
            username=self.address.user,
            password=self._word,
            identifier=self._identifier,
            protocol=aiomqtt.ProtocolVersion.V5,
            clean_start=not (keep_s and self._known_there),
            properties=properties,
            queue_type=cast(type[asyncio.Queue[aiomqtt.Message]], lambda maxsize: self.inbox),
            keepalive=KEEPALIVE_S,
            timeout=ANSWER_S,
            tls_context=self._tls,
            # Nagle's algorithm and delayed acknowledgements together cost tens of milliseconds.
            socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],
        )
        try:
            async with client:
                self._known_there = True
                _heed_cancellation()
                yield Connection(client, self)
        except aiomqtt.MqttError as error:
            _abandon(client)
            _heed_cancellation()  # the farewell failed while we were being stopped
            raise BrokerTrouble(_sentence(self.address, error)) from None


class Connection:
    """An open connection."""

    def __init__(self, client: aiomqtt.Client, broker: Broker) -> None:
        self._client = client
        self._broker = broker

    async def subscribe(self, topics: Sequence[str]) -> None:
        """Ask for ``topics``; raise :class:`BrokerTrouble` if the broker does not allow it."""
        for topic in topics:
            answer = await self._client.subscribe(topic, qos=self._broker.qos)
            _heed_cancellation()
            for code in cast(Sequence[Any], answer):
                if getattr(code, "value", code) >= _REFUSED:
                    raise BrokerTrouble(
                        f"The broker at {self._broker.address} does not let this account read "
                        f"{topic} ({code}). Ask whoever keeps the broker to allow it."
                    )

    async def take(self, most: int) -> list[Packet]:
        """Wait for messages and return those that are there, at most ``most``."""
        inbox = self._broker.inbox
        messages = [await anext(self._client.messages)]
        while len(messages) < most:
            if inbox.empty():
                # The client reads one message a turn of the loop: more may wait at the socket.
                await asyncio.sleep(0)
                if inbox.empty():
                    break
            messages.append(inbox.get_nowait())
        return [Packet(str(m.topic), m.payload or b"", cast(Any, m).received_ns) for m in messages]

    async def publish(self, topic: str, payload: bytes, qos: int, retain: bool = False) -> None:
        """Publish, and with QoS 1 or 2 wait until the broker has it."""
        await self._client.publish(topic, payload, qos=qos, retain=retain)
        _heed_cancellation()

    async def wait_for(self, event: asyncio.Event) -> None:
        """Wait for ``event``, or raise as soon as the connection is gone."""
        waiting = asyncio.ensure_future(event.wait())
        gone = self._client._disconnected
        both: set[asyncio.Future[Any]] = {waiting, gone}
        try:
            await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
        finally:
            waiting.cancel()
        if gone.done():
            raise aiomqtt.MqttError("disconnected") from gone.exception()


def _heed_cancellation() -> None:
    """Stop where this task was told to stop while the broker's answer arrived.

    ``asyncio.wait_for``, on which aiomqtt waits, gives the answer and forgets
    the cancellation in that case (before Python 3.12).
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _abandon(client: aiomqtt.Client) -> None:
    """Close what a failed connection leaves open: aiomqtt waits for the broker to do it."""
    sock = client._client.socket()
    if sock is not None:
        asyncio.get_running_loop().remove_reader(sock.fileno())
        asyncio.get_running_loop().remove_writer(sock.fileno())
        sock.close()
    for future in (client._connected, client._disconnected):
        if future.done() and not future.cancelled():
            future.exception()  # it has been said


def _sentence(address: Address, error: aiomqtt.MqttError) -> str:
    text = f"{error} {error.__cause__ or ''}".strip()
    lower = text.lower()
    if "certificate" in lower or "ssl" in lower:
        return (
            f"The broker at {address} could not prove who it is ({text}). Nothing was sent to it. "
            "Check the address, and give the certificate of its issuer with --ca-file."
        )
    if isinstance(error, aiomqtt.MqttCodeError) and any(
        word in lower for word in ("authori", "password", "banned")
    ):
        return (
            f"The broker at {address} does not let us in ({text}). Check the user in the address "
            "and the password; trying again."
        )
    if "refused" in lower:
        return (
            f"No broker answers at {address}. Check that it is running and that address and port "
            "are right; trying again."
        )
    return (
        f"The connection to the broker at {address} is gone ({text}). Check the network and the "
        "broker; trying again."
    )
