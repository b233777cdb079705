"""A real broker for tests, on a port of its own, with certificates made on the spot."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.transport.waiting import eventually_now, free_port

PASSWORDS = {"mound-a": "clay-and-rubber", "monitor": "sixty-feet-six", "viewer": "only-looking"}


def program(name: str) -> str:
    """Return the path of a program the tests cannot do without."""
    path = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    assert path, f"{name} is needed for these tests: apt-get install mosquitto openssl"
    return path


class Mosquitto:
    """A broker that can be stopped and started again on the same port."""

    def __init__(self, folder: Path, config: str | None = None, port: int | None = None) -> None:
        self.folder = folder
        self.port = port or free_port()
        self.log = folder / "broker.log"
        text = config or (
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\n"
            "set_tcp_nodelay true\nlog_type all\n"
        )
        # As root it would change to an account that cannot read the test's folder.
        self._config = folder / "broker.conf"
        self._config.write_text(text + ("user root\n" if os.geteuid() == 0 else ""))
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [program("mosquitto"), "-c", str(self._config)], stdout=log, stderr=log
            )
        eventually_now(self._answers, "the broker listens")

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(10)
            self._process = None

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self.log.read_text()
        try:
            socket.create_connection(("127.0.0.1", self.port), 1).close()
        except OSError:
            return False
        return True


@pytest.fixture
def make_broker(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    made: list[Mosquitto] = []

    def make(config: str | None = None, port: int | None = None) -> Mosquitto:
        folder = tmp_path / f"broker-{len(made)}"
        folder.mkdir()
        made.append(Mosquitto(folder, config, port))
        return made[-1]

    yield make
    for broker in made:
        broker.stop()


@pytest.fixture
def broker(make_broker: Callable[..., Mosquitto]) -> Mosquitto:
    made = make_broker()
    made.start()
    return made


def write_passwords(path: Path) -> None:
    """Write a password file for the accounts of the shipped access list."""
    path.touch()
    for user, word in PASSWORDS.items():
        subprocess.run(
            [program("mosquitto_passwd"), "-b", str(path), user, word],
            check=True,
            capture_output=True,
        )


def certificate(folder: Path, name: str, hosts: str = "IP:127.0.0.1,DNS:localhost") -> Path:
    """Make an authority and a server's certificate; return the authority's file."""
    folder.mkdir(exist_ok=True)
    ca, ca_key = folder / f"{name}-ca.crt", folder / f"{name}-ca.key"
    key, request = folder / f"{name}.key", folder / f"{name}.csr"
    extensions = folder / f"{name}.ext"
    extensions.write_text(f"subjectAltName={hosts}\n")
    for words in (
        ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days",
         "2", "-subj", f"/CN=Invented authority {name}", "-keyout", str(ca_key), "-out", str(ca)],
        ["req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj",
         "/CN=invented broker", "-keyout", str(key), "-out", str(request)],
        ["x509", "-req", "-in", str(request), "-CA", str(ca), "-CAkey", str(ca_key), "-days", "2",
         "-CAcreateserial", "-extfile", str(extensions), "-out", str(folder / f"{name}.crt")],
    ):  # fmt: skip
        subprocess.run([program("openssl"), *words], check=True, capture_output=True)
    return ca
