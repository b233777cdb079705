"""Live sources: each yields batches of packets as they came."""

from __future__ import annotations

from stream.access.address import Scheme, parse_address
from stream.access.options import ConnectionOptions
from stream.sources.source import Source, Tell

__all__ = ["Source", "Tell", "open_source"]


def open_source(url: str, options: ConnectionOptions, tell: Tell) -> Source:
    """Return the source for ``url``; ``tell`` takes its sentences about the connection.

    Nothing is connected before its batches are iterated. Raise AddressError
    or SecretError for what can never work.
    """
    address = parse_address(url)
    match address.scheme:
        case Scheme.MQTT | Scheme.MQTTS:
            from stream.sources.mqtt import MqttSource  # noqa: PLC0415 - one transport is loaded

            return MqttSource(address, options, tell)
        case Scheme.TCP | Scheme.IPC:
            from stream.sources.zeromq import ZeroMqSource  # noqa: PLC0415

            return ZeroMqSource(address, options, tell)
