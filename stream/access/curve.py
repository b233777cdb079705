"""ZeroMQ CURVE: who may join a feed is told by keys.

``make_keys`` writes one folder for the program that listens and one for each
program that connects::

    DIR/server/server.key_secret      stays on the listening computer
    DIR/server/authorised/NAME.key    whom it lets in
    DIR/NAME/client.key_secret        goes to that one computer
    DIR/NAME/server.key               by which it knows the listener

Secrets are readable by their owner only, and refused otherwise.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import zmq
import zmq.auth

from stream.access.secrets import SecretError, read_secret_file

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")
SERVER = "server"
DOMAIN = "moundfeed"


@dataclass(frozen=True)
class ClientKeys:
    """Keys of a program that connects."""

    public: bytes
    secret: bytes
    server: bytes

    def apply(self, socket: zmq.Socket[Any]) -> None:
        """Make ``socket`` prove itself, and accept the one server only."""
        socket.curve_publickey = self.public
        socket.curve_secretkey = self.secret
        socket.curve_serverkey = self.server


@dataclass(frozen=True)
class ServerKeys:
    """Keys of a program that listens, and the public keys that it lets in."""

    public: bytes
    secret: bytes
    authorised: frozenset[bytes]

    def apply(self, socket: zmq.Socket[Any]) -> None:
        """Make ``socket`` ask for keys; :class:`Doorkeeper` must run in its context."""
        socket.curve_publickey = self.public
        socket.curve_secretkey = self.secret
        socket.curve_server = True
        socket.zap_domain = DOMAIN.encode()
        # Without this a missing doorkeeper would mean that every key is let in.
        socket.set(zmq.ZAP_ENFORCE_DOMAIN, 1)


class Doorkeeper:
    """Answers ZeroMQ's question whether a key may come in (ZAP, ZeroMQ RFC 27).

    To be made before any listening socket of its context.
    """

    def __init__(self, context: zmq.Context[Any], authorised: frozenset[bytes]) -> None:
        self._authorised = authorised
        self._socket = context.socket(zmq.REP)
        self._socket.linger = 0
        self._socket.bind("inproc://zeromq.zap.01")
        self.refused = 0

    async def run(self) -> None:
        """Answer until cancelled; the context must be an asyncio one."""
        while True:
            request = await self._socket.recv_multipart()
            await self._socket.send_multipart(self._answer(request))

    def close(self) -> None:
        """Stop answering."""
        self._socket.close()

    def _answer(self, request: Sequence[bytes]) -> list[bytes]:
        version, number = request[0], request[1]
        mechanism, key = request[5], request[6] if len(request) > 6 else b""
        known = mechanism == b"CURVE" and zmq.utils.z85.encode(key) in self._authorised
        self.refused += not known
        status = [b"200", b"OK"] if known else [b"400", b"this key is not known here"]
        return [version, number, *status, b"", b""]


def make_keys(folder: Path, clients: Sequence[str]) -> list[Path]:
    """Write the keys of a listener and of ``clients`` below ``folder``; return the folders.

    An existing listener keeps its key, so that clients can be added; an
    existing client is refused. Raise :class:`SecretError`.
    """
    for name in clients:
        if not _NAME.match(name) or name == SERVER:
            raise SecretError(f"{name[:80]!r} cannot be a name here: letters, digits, - and _")
        if (folder / name).exists():
            raise SecretError(f"{folder / name} is there already; nothing was overwritten")
    server = folder / SERVER
    made = []
    for path in (folder, server, server / "authorised"):
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not (server / "server.key_secret").exists():
        public, secret = zmq.curve_keypair()
        _write(server / "server.key_secret", public, secret)
        _write(server / "server.key", public)
        made.append(server)
    server_public, _ = _read_public(server / "server.key")
    for name in clients:
        (folder / name).mkdir(mode=0o700)
        public, secret = zmq.curve_keypair()
        _write(folder / name / "client.key_secret", public, secret)
        _write(folder / name / "server.key", server_public)
        _write(server / "authorised" / f"{name}.key", public)
        made.append(folder / name)
    return made


def client_keys(folder: Path) -> ClientKeys:
    """Return the keys in ``DIR/NAME``; raise :class:`SecretError`."""
    public, secret = _read_secret(folder / "client.key_secret")
    server, _ = _read_public(folder / "server.key")
    return ClientKeys(public, secret, server)


def server_keys(folder: Path) -> ServerKeys:
    """Return the keys in ``DIR/server``; raise :class:`SecretError`."""
    public, secret = _read_secret(folder / "server.key_secret")
    known = sorted((folder / "authorised").glob("*.key"))
    return ServerKeys(public, secret, frozenset(_read_public(path)[0] for path in known))


def _write(path: Path, public: bytes, secret: bytes | None = None) -> None:
    lines = ["metadata", "curve", f'    public-key = "{public.decode()}"']
    if secret is not None:
        lines.append(f'    secret-key = "{secret.decode()}"')
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write("\n".join(lines) + "\n")


def _read_secret(path: Path) -> tuple[bytes, bytes]:
    read_secret_file(path)
    public, secret = _read_public(path)
    if secret is None:
        raise SecretError(f"{path} holds no secret key")
    return public, secret


def _read_public(path: Path) -> tuple[bytes, bytes | None]:
    try:
        public, secret = zmq.auth.load_certificate(path)
    except (OSError, ValueError):
        raise SecretError(
            f"{path} cannot be read as a key; --keys takes a folder made by 'moundfeed keys'"
        ) from None
    return public, secret
