"""Addresses of feeds: ``tcp://HOST:PORT``, ``ipc://PATH``, ``mqtt://`` and ``mqtts://[USER@]HOST[:PORT]``."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import urlsplit


class AddressError(ValueError):
    """An address that cannot be used; the text says what to write instead."""


class Scheme(StrEnum):
    """How the address is spoken to."""

    TCP = "tcp"  # ZeroMQ
    IPC = "ipc"  # ZeroMQ within one computer
    MQTT = "mqtt"
    MQTTS = "mqtts"  # MQTT over TLS


_DEFAULT_PORT = {Scheme.MQTT: 1883, Scheme.MQTTS: 8883}
_FORMS = "tcp://HOST:PORT, mqtt://[USER@]HOST[:PORT] or mqtts://[USER@]HOST[:PORT]"


@dataclass(frozen=True, slots=True)
class Address:
    """A parsed address; it never holds a password."""

    scheme: Scheme
    host: str
    port: int
    user: str | None = None

    @property
    def is_mqtt(self) -> bool:
        """Whether a broker stands between the two ends."""
        return self.scheme in (Scheme.MQTT, Scheme.MQTTS)

    @property
    def is_local(self) -> bool:
        """Whether only programs on this computer can be at the other end."""
        if self.scheme is Scheme.IPC or self.host == "localhost":
            return True
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False

    def __str__(self) -> str:
        if self.scheme is Scheme.IPC:
            return f"ipc://{self.host}"
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{self.scheme}://{host}:{self.port}"


def parse_address(text: str) -> Address:
    """Return the address in ``text``; raise :class:`AddressError`.

    The error never repeats ``text`` where it may hold a password.
    """
    scheme_text, _, rest = text.partition("://")
    try:
        scheme = Scheme(scheme_text.lower())
    except ValueError:
        raise AddressError(f"the address must look like {_FORMS}") from None
    if scheme is Scheme.IPC:
        if not rest:
            raise AddressError("ipc:// needs a path")
        return Address(scheme, rest, 0)
    try:
        parts = urlsplit(text)
        host, port, user, password = parts.hostname, parts.port, parts.username, parts.password
    except ValueError:
        raise AddressError(f"the address must look like {_FORMS}") from None
    if password is not None:
        raise AddressError(
            "a password does not belong into an address, where other programs and logs see it; "
            "put it into the environment variable MOUNDFEED_MQTT_PASSWORD or into a file that "
            "only you can read (--password-file)"
        )
    if user is not None and scheme is Scheme.TCP:
        raise AddressError("tcp:// takes no user; a ZeroMQ feed is protected by keys (--keys)")
    port = port or _DEFAULT_PORT.get(scheme)
    if not host or not port or parts.path.strip("/") or parts.query or parts.fragment:
        raise AddressError(f"the address must look like {_FORMS}")
    return Address(scheme, host, port, user or None)


def check_listen(address: Address, open_to_network: bool) -> Address:
    """Return ``address`` if it may be listened on; raise :class:`AddressError`."""
    if not address.is_local and not open_to_network:
        raise AddressError(
            f"{address} would be open to the network; listen on 127.0.0.1, "
            "or say --open-to-network if that is what you want"
        )
    return address
