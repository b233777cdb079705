"""What both publishers have in common."""

from __future__ import annotations

from typing import Protocol

from stream.access.address import Scheme, check_listen, parse_address
from stream.access.options import ConnectionOptions
from stream.sinks.messages import Message


class Publisher(Protocol):
    """Publishes the monitor's messages; :meth:`offer` never waits for anybody."""

    @property
    def address(self) -> str:
        """Where it publishes, fit to be shown."""

    @property
    def dropped(self) -> int:
        """Messages that nobody will get because the other side was away or too slow."""

    @property
    def trouble(self) -> str | None:
        """What is wrong at the moment and what to do, or None."""

    def offer(self, message: Message) -> None:
        """Take a message to publish."""

    async def run(self) -> None:
        """Publish until cancelled."""

    async def finish(self) -> None:
        """Give what waits a moment to leave; :meth:`run` is still running."""

    def close(self) -> None:
        """Close; :meth:`run` has ended."""


def open_publisher(
    url: str, options: ConnectionOptions, *, open_to_network: bool = False
) -> Publisher:
    """Return the publisher for ``url``: a broker's client, or a ZeroMQ socket that listens.

    Raise AddressError, SecretError, or OSError where the address is taken.
    """
    address = parse_address(url)
    match address.scheme:
        case Scheme.MQTT | Scheme.MQTTS:
            from stream.sinks.mqtt import MqttPublisher  # noqa: PLC0415 - one transport is loaded

            return MqttPublisher(address, options)
        case Scheme.TCP | Scheme.IPC:
            from stream.sinks.zeromq import ZeroMqPublisher  # noqa: PLC0415

            return ZeroMqPublisher(check_listen(address, open_to_network), options)
