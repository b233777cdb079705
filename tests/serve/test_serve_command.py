"""``moundfeed serve`` as a command: wrong use, certificates, and that its viewers cannot act."""

from __future__ import annotations

import socket
import ssl
from pathlib import Path

import aiohttp
import pytest

from stream.actions import Note
from stream.files import load_layout
from stream.monitor.presence import runtime_folder
from stream.monitor.viewer import ViewerLink
from stream.recording.session import Session
from stream.roster import Roster
from tests.monitor.test_monitor_link import serving
from tests.serve.serving import served
from tests.transport.mosquitto import certificate
from tests.transport.waiting import eventually
from tui.commands.main import main
from tui.commands.web_viewer import Look, command


@pytest.fixture(autouse=True)
def own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "Give --session DIR or --at"),
        (["--session", "x", "--at", "tcp://127.0.0.1:1"], "Give --session DIR or --at"),
        (["--session", "nowhere"], "no monitor runs for nowhere, and it is no session"),
        (["--at", "nonsense"], "must look like tcp://HOST:PORT"),
        (["--at", "mqtt://127.0.0.1"], "--at needs the tcp://HOST:PORT"),
        (["--at", "tcp://127.0.0.1:1", "--certificate", "no.pem"], "no.pem: the certificate"),
    ],
)
def test_wrong_use_is_one_line(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", *arguments]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1


def test_a_port_that_is_taken_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert main(["serve", "--at", "tcp://127.0.0.1:1", "--port", port]) == 1
    error = capsys.readouterr().err
    assert port in error
    assert error.count("\n") == 1


async def test_with_a_certificate_it_is_encrypted(tmp_path: Path) -> None:
    authority = certificate(tmp_path, "served")
    names = {"certificate": tmp_path / "served.crt", "certificate-key": tmp_path / "served.key"}
    arguments = [word for name, path in names.items() for word in (f"--{name}", str(path))]
    Session.create(
        tmp_path / "session",
        source="mound-a",
        layout_text=load_layout("two-plates").origin_text,
        settings_text="",
        roster=Roster(),
    )
    with served(tmp_path / "session", "--port", "0", *arguments) as (link, _):
        assert link.startswith("https://127.0.0.1:")
        trust = ssl.create_default_context(cafile=str(authority))
        async with aiohttp.ClientSession() as http:
            async with http.get(link, ssl=trust, allow_redirects=False) as answer:
                assert answer.status == 303
                assert "Secure" in answer.headers["Set-Cookie"]
            with pytest.raises(aiohttp.ClientError):
                await http.get(link.replace("https", "http"))


async def test_a_viewers_link_has_no_way_to_act() -> None:
    folder = runtime_folder("t")
    async with serving(folder), ViewerLink(folder, view_only=True) as link:
        await eventually(lambda: link.latest)
        assert len(link._sockets) == 2, "the operator's endpoint is never opened"
        note = Note(source="mound-a", t_ns=5, number=1, text="x")
        assert await link.act(note) == "This screen only looks on; it cannot change anything."
    async with serving(folder), ViewerLink(folder) as link:
        await eventually(lambda: link.may_act)


def test_no_secret_is_in_a_viewers_words() -> None:
    look = Look(session="/tuesday", units="us", decimal=".", look="dark")
    assert set(Look.__struct_fields__) == {
        "session", "at", "keys", "source", "units", "decimal", "look",
    }  # fmt: skip
    assert "/tuesday" in command(look)[-1]
