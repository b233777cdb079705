from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from contextlib import aclosing
from pathlib import Path

import pytest
import zmq
import zmq.asyncio

from stream.access.address import parse_address
from stream.access.curve import Doorkeeper, client_keys, make_keys, server_keys
from stream.access.options import ConnectionOptions
from stream.access.secrets import SecretError
from stream.snapshot import Level
from stream.sources.zeromq import ZeroMqSource
from tests.transport.feeds import BLOCK, Listener, force, frames
from tests.transport.waiting import eventually, free_port

FORCE = b"moundfeed/mound-a/force"


class Device:
    """A publisher that waits for its subscriber, so that nothing is lost at the beginning."""

    def __init__(self, context: zmq.Context[zmq.Socket[bytes]], url: str) -> None:
        self.socket = context.socket(zmq.XPUB)
        self.socket.linger = 0
        self.url = url

    def bind(self) -> None:
        self.socket.bind(self.url)

    async def joined(self) -> None:
        await eventually(lambda: self.socket.poll(0), "somebody subscribes")
        self.socket.recv()

    def send(self, *numbers: int) -> None:
        for number in numbers:
            self.socket.send_multipart([FORCE, force(number)])

    def close(self) -> None:
        self.socket.close()


@pytest.fixture
def context() -> Iterator[zmq.Context[zmq.Socket[bytes]]]:
    with zmq.Context() as made:
        yield made


@pytest.fixture
def url() -> str:
    return f"tcp://127.0.0.1:{free_port()}"


async def test_every_block_comes_in_order(
    context: zmq.Context[zmq.Socket[bytes]], url: str
) -> None:
    device = Device(context, url)
    device.bind()
    async with Listener(url) as listener:
        await device.joined()
        device.send(*range(300))
        await eventually(lambda: len(listener.packets) == 300)
        assert frames(listener.packets) == list(range(0, 300 * BLOCK, BLOCK))
        assert listener.packets[7].payload == force(7), "byte for byte"
        await eventually(lambda: listener.heard("Connected"))
    device.close()


@pytest.mark.parametrize(("apart_s", "together"), [(0.002, True), (0.05, False)])
async def test_quick_messages_are_taken_together_and_others_at_once(
    context: zmq.Context[zmq.Socket[bytes]], url: str, apart_s: float, together: bool
) -> None:
    device = Device(context, url)
    device.bind()
    async with Listener(url) as listener:
        await device.joined()
        sent_ns = []
        for number in range(60):
            sent_ns.append(time.time_ns())
            device.send(number)
            await asyncio.sleep(apart_s)
        await eventually(lambda: len(listener.packets) == 60)
        assert frames(listener.packets) == list(range(0, 60 * BLOCK, BLOCK))
        assert (max(map(len, listener.batches)) > 1) == together
        late_ns = sorted(p.received_ns - s for p, s in zip(listener.packets, sent_ns, strict=True))
        # Half of them: a busy computer makes single ones late.
        assert late_ns[30] < (15e6 if together else 5e6)
    device.close()


async def test_a_message_that_comes_while_the_batch_before_is_handled_is_not_left_lying(
    context: zmq.Context[zmq.Socket[bytes]], url: str
) -> None:
    device = Device(context, url)
    device.bind()
    source = ZeroMqSource(parse_address(url), ConnectionOptions(), lambda _: None)
    taken = []
    async with aclosing(source.batches()) as batches:
        waiting = asyncio.ensure_future(anext(batches))
        await device.joined()
        for number in range(5):
            device.send(number)
            taken += await asyncio.wait_for(waiting, 5)
            device.send(number + 100)
            await asyncio.sleep(0.05)  # it is seen to have come, and nobody asks for it yet
            waiting = asyncio.ensure_future(anext(batches))
            taken += await asyncio.wait_for(waiting, 5)
            waiting = asyncio.ensure_future(anext(batches))
            await asyncio.sleep(0.05)
        waiting.cancel()
        await asyncio.wait([waiting])
    assert len(taken) == 10
    device.close()


@pytest.mark.fault(
    "the device comes late, or is restarted",
    "it is said; the feed is taken up again by itself",
)
async def test_a_device_that_comes_late_or_restarts_is_met_again(
    context: zmq.Context[zmq.Socket[bytes]], url: str
) -> None:
    async with Listener(url) as listener:
        await eventually(lambda: listener.heard("Nobody answers"))
        for life in (1, 2):
            device = Device(context, url)
            device.bind()
            await device.joined()
            device.send(life)
            await eventually(lambda life=life: len(listener.packets) == life)  # type: ignore[misc]
            device.close()
            await eventually(lambda: listener.said[-1].level is Level.ALARM)
            assert listener.heard("has gone. Check its power")
    assert frames(listener.packets) == [BLOCK, 2 * BLOCK]


async def test_only_force_and_speed_of_wanted_mounds_are_taken(
    context: zmq.Context[zmq.Socket[bytes]], url: str
) -> None:
    """Above all no operator's action: that comes from the operator's own screen only."""
    device = Device(context, url)
    device.bind()
    async with Listener(url, ConnectionOptions(source="mound-a")) as listener:
        await device.joined()
        for parts in (
            [b"moundfeed/mound-a/operator", b'{"v":1,"action":"void"}'],
            [b"moundfeed/mound-a/pitch", b"{}"],
            [b"moundfeed/mound-a/force"],
            [b"moundfeed/mound-a/force", force(0), b"more"],
            [b"moundfeed/mound-a/\xff\xfe", force(0)],
            [b"moundfeed/mound-a/force/x", force(0)],
            [b"moundfeed/mound-b/force", force(0, "mound-b")],
            [b"moundfeed/mound-a/speed", b"nonsense is the core's to refuse"],
            [FORCE, force(5)],
        ):
            device.socket.send_multipart(parts)
        await eventually(lambda: len(listener.packets) == 2)
        assert [p.topic for p in listener.packets] == ["moundfeed/mound-a/speed", FORCE.decode()]
        # mound-b is not even sent to us: ZeroMQ filters by the topic's beginning.
        assert listener.source.left_out == 6
    device.close()


async def test_keys_let_in_whom_they_should_and_nobody_else(tmp_path: Path, url: str) -> None:
    """A real attempt with each: no key, a stranger's key, the wrong server's key, the right one."""
    make_keys(tmp_path / "club", ["monitor"])
    make_keys(tmp_path / "other", ["stranger"])
    keys = server_keys(tmp_path / "club" / "server")
    stranger = tmp_path / "other" / "stranger"
    # The stranger has found out the public key of our server, which is no secret.
    public = (tmp_path / "club" / "server" / "server.key").read_text()

    with zmq.asyncio.Context() as context:
        doorkeeper = Doorkeeper(context, keys.authorised)
        socket = context.socket(zmq.XPUB)
        socket.linger = 0
        keys.apply(socket)
        socket.bind(url)

        door = asyncio.create_task(doorkeeper.run())

        async def attempt(folder: Path | None) -> Listener:
            return Listener(url, ConnectionOptions(keys=str(folder) if folder else None))

        async with await attempt(None) as listener:
            await eventually(lambda: listener.heard("uses keys and the other does not"))
        async with await attempt(stranger) as listener:
            await eventually(lambda: listener.said, "the wrong server's key leads nowhere")
        (stranger / "server.key").write_text(public)
        async with await attempt(stranger) as listener:
            await eventually(lambda: listener.heard("refuses our key"))
        assert doorkeeper.refused >= 1
        assert not await socket.poll(0), "nobody of those could even subscribe"
        async with await attempt(tmp_path / "club" / "monitor") as listener:
            await socket.recv()
            await socket.send_multipart([FORCE, force(1)])
            await eventually(lambda: listener.packets)
            assert listener.heard("Connected")
        door.cancel()
        doorkeeper.close()
        socket.close()


def test_keys_are_their_owners_alone_and_never_overwritten(tmp_path: Path) -> None:
    make_keys(tmp_path / "k", ["monitor"])
    before = (tmp_path / "k/server/server.key_secret").read_text()
    for path in (tmp_path / "k").rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path
    with pytest.raises(SecretError, match="nothing was overwritten"):
        make_keys(tmp_path / "k", ["monitor"])
    for bad in ("server", "../x", "a b", ""):
        with pytest.raises(SecretError):
            make_keys(tmp_path / "k", [bad])
    make_keys(tmp_path / "k", ["tablet"])
    assert (tmp_path / "k/server/server.key_secret").read_text() == before
    assert len(server_keys(tmp_path / "k/server").authorised) == 2
    secret = tmp_path / "k/monitor/client.key_secret"
    secret.chmod(0o644)
    with pytest.raises(SecretError, match="chmod 600"):
        client_keys(tmp_path / "k/monitor")
    with pytest.raises(SecretError):
        client_keys(tmp_path / "nowhere")
