"""The shipped broker example on a real broker: TLS, accounts, what each may publish."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import pytest

from stream.access import broker as broker_module
from stream.access.address import parse_address
from stream.access.broker import Broker
from stream.access.options import ConnectionOptions
from stream.access.secrets import PASSWORD_VARIABLE, SecretError
from stream.snapshot import Level
from tests.transport.feeds import Listener, force
from tests.transport.mosquitto import PASSWORDS, Mosquitto, certificate, write_passwords
from tests.transport.waiting import eventually, free_port

FORCE, PITCH = "moundfeed/mound-a/force", "moundfeed/mound-a/pitch"


class Club:
    """The broker with the shipped configuration, and the password file of each account."""

    def __init__(self, folder: Path, make_broker: Callable[..., Mosquitto]) -> None:
        self.folder = folder
        self.ca = certificate(folder, "moundfeed-server")
        write_passwords(folder / "moundfeed.passwords")
        configs = resources.files("configs")
        (folder / "moundfeed.acl").write_text((configs / "mosquitto-example.acl").read_text())
        self.plain, self.tls = free_port(), free_port()
        text = (configs / "mosquitto-example.conf").read_text()
        for old, new in (
            ("/etc/mosquitto/", f"{folder}/"),
            ("listener 1883 ", f"listener {self.plain} "),
            ("listener 8883\n", f"listener {self.tls} 127.0.0.1\n"),
        ):
            assert old in text
            text = text.replace(old, new)
        make_broker(text, self.plain).start()

    def options(self, user: str, **more: object) -> ConnectionOptions:
        file = self.folder / f"{user}.pw"
        file.write_text(PASSWORDS.get(user, "a wrong one"))
        file.chmod(0o600)
        return ConnectionOptions(password_file=str(file), **more)  # type: ignore[arg-type]

    def broker(self, user: str) -> Broker:
        return Broker(parse_address(f"mqtt://{user}@127.0.0.1:{self.plain}"), self.options(user))


@pytest.fixture
def club(tmp_path: Path, make_broker: Callable[..., Mosquitto]) -> Club:
    (tmp_path / "club").mkdir()
    return Club(tmp_path / "club", make_broker)


async def published(club: Club, user: str, topic: str, watcher: str, watched: str) -> bool:
    """Whether what ``user`` publishes on ``topic`` reaches ``watcher``, who reads ``watched``."""
    async with club.broker(watcher).connect() as reader:
        await reader.subscribe([watched])
        async with club.broker(user).connect() as writer:
            await writer.publish(topic, b"attempt", 1)
        # One that is allowed follows, so that waiting for the first has an end.
        allowed = "mound-a" if watched == FORCE else "monitor"
        async with club.broker(allowed).connect() as other:
            await other.publish(watched, b"end", 1)
        got: list[bytes | memoryview] = []
        while b"end" not in got:
            got += [p.payload for p in await reader.take(100)]
        return b"attempt" in got


async def test_a_viewer_can_publish_neither_force_nor_pitch(club: Club) -> None:
    assert not await published(club, "viewer", FORCE, "monitor", FORCE)
    assert not await published(club, "viewer", PITCH, "viewer", PITCH)
    # The same attempts by those who may, so that the test could fail.
    assert await published(club, "mound-a", FORCE, "monitor", FORCE)
    assert await published(club, "monitor", PITCH, "viewer", PITCH)


async def test_a_device_can_publish_no_pitch_and_no_other_mounds_force(club: Club) -> None:
    assert not await published(club, "mound-a", PITCH, "viewer", PITCH)
    async with club.broker("monitor").connect() as reader:
        await reader.subscribe(["moundfeed/+/force"])
        async with club.broker("mound-a").connect() as writer:
            await writer.publish("moundfeed/mound-b/force", b"attempt", 1)
            await writer.publish(FORCE, b"end", 1)
        got = [p.payload for p in await reader.take(100)]
        assert got == [b"end"]


async def test_a_viewer_cannot_read_raw_forces(club: Club) -> None:
    options = club.options("viewer")
    async with Listener(f"mqtt://viewer@127.0.0.1:{club.plain}", options) as viewer:
        await eventually(lambda: viewer.said)
        async with club.broker("mound-a").connect() as device:
            await device.publish(FORCE, force(1), 1)
        async with Listener(
            f"mqtt://monitor@127.0.0.1:{club.plain}", club.options("monitor")
        ) as monitor:
            await eventually(lambda: monitor.heard("Connected"))
            async with club.broker("mound-a").connect() as device:
                await device.publish(FORCE, force(2), 1)
            await eventually(lambda: monitor.packets)
        assert not viewer.packets


async def test_without_an_account_nobody_gets_in(club: Club) -> None:
    async with Listener(f"mqtt://127.0.0.1:{club.plain}") as stranger:
        await eventually(lambda: stranger.heard("does not let us in"))
    async with Listener(
        f"mqtt://nobody@127.0.0.1:{club.plain}", club.options("nobody")
    ) as stranger:
        await eventually(lambda: stranger.heard("Check the user"))
        assert not any("a wrong one" in s.text for s in stranger.said)


async def test_tls_with_the_right_authority(club: Club) -> None:
    options = club.options("monitor", ca_file=str(club.ca))
    async with Listener(f"mqtts://monitor@127.0.0.1:{club.tls}", options) as listener:
        await eventually(lambda: listener.heard("Connected"))
        async with club.broker("mound-a").connect() as device:
            await device.publish(FORCE, force(1), 1)
        await eventually(lambda: listener.packets)
        assert listener.said[-1].level is Level.INFO


@pytest.mark.parametrize("trusted", ["nobody given", "another authority"])
async def test_tls_refuses_a_broker_that_cannot_prove_who_it_is(
    club: Club, trusted: str, tmp_path: Path
) -> None:
    more = {} if trusted == "nobody given" else {"ca_file": str(certificate(tmp_path, "other"))}
    options = club.options("monitor", **more)
    async with Listener(f"mqtts://monitor@127.0.0.1:{club.tls}", options) as listener:
        await eventually(lambda: listener.heard("could not prove who it is"))
        assert not any("Connected" in s.text for s in listener.said)


async def test_tls_refuses_a_certificate_for_another_name(
    tmp_path: Path, make_broker: Callable[..., Mosquitto]
) -> None:
    ca = certificate(tmp_path, "elsewhere", hosts="DNS:broker.invalid")
    port = free_port()
    make_broker(
        f"listener {port} 127.0.0.1\nallow_anonymous true\n"
        f"certfile {tmp_path}/elsewhere.crt\nkeyfile {tmp_path}/elsewhere.key\n",
        port,
    ).start()
    url = f"mqtts://127.0.0.1:{port}"
    async with Listener(url, ConnectionOptions(ca_file=str(ca))) as listener:
        await eventually(lambda: listener.heard("could not prove who it is"))
    async with Listener(url, ConnectionOptions(verify=False)) as listener:
        await eventually(lambda: listener.heard("without checking who it is"))
        assert listener.said[-1].level is Level.WARNING


async def test_speaking_plainly_to_a_tls_listener_is_said(
    club: Club, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(broker_module, "ANSWER_S", 0.3)
    url = f"mqtt://monitor@127.0.0.1:{club.tls}"
    async with Listener(url, club.options("monitor")) as listener:
        await eventually(lambda: listener.said)
        assert listener.said[-1].level is Level.ALARM


def test_a_file_that_holds_no_certificates_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(PASSWORD_VARIABLE, raising=False)
    (tmp_path / "ca.crt").write_text("no certificate")

    async def attempt() -> None:
        Broker(parse_address("mqtts://h"), ConnectionOptions(ca_file=str(tmp_path / "ca.crt")))

    with pytest.raises(SecretError, match=r"ca\.crt"):
        asyncio.run(attempt())


async def test_a_subscription_that_is_refused_is_said() -> None:
    """Mosquitto's access list only withholds; another broker may say no (MQTT 5, 3.9.3: 0x87)."""

    async def refusing(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1000)
        writer.write(b"\x20\x03\x00\x00\x00")  # CONNACK, success
        subscribe = await reader.read(1000)
        writer.write(b"\x90\x04" + subscribe[2:4] + b"\x00\x87")  # SUBACK, not authorized
        await reader.read()
        writer.close()

    async with await asyncio.start_server(refusing, "127.0.0.1", 0) as server:
        port = server.sockets[0].getsockname()[1]
        async with Listener(f"mqtt://127.0.0.1:{port}") as listener:
            await eventually(lambda: listener.heard("does not let this account read"))
