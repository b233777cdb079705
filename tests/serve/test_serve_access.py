"""Who gets in, how many, and what becomes of a viewer's process: real sockets, real processes."""

from __future__ import annotations

import asyncio
import json
import os
import re
import socket
import struct
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from tests.transport.waiting import eventually
from tui.web import server as server_module
from tui.web.access import ELSEWHERE, MISSING, WRONG, Access
from tui.web.server import ScreenServer

STAND_IN = Path(__file__).with_name("stand_in.py")
PROTECTING = {
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}


class Served:
    """A server on a port of its own, and a browser's side of it."""

    def __init__(self, folder: Path, http: aiohttp.ClientSession, what: str, most: int) -> None:
        self.folder = folder
        self.http = http
        self.access = Access(secure=False)
        self.told: list[int] = []
        self.server = ScreenServer(
            [sys.executable, str(STAND_IN), str(folder), what],
            host="127.0.0.1",
            port=0,
            access=self.access,
            most=most,
            look="dark",
            tell=self.told.append,
        )
        self.port = 0

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    async def get(self, path: str, **options: Any) -> aiohttp.ClientResponse:
        answer = await self.http.get(self.url + path, allow_redirects=False, **options)
        await answer.read()
        return answer

    async def come_in(self) -> None:
        assert (await self.get(f"/?key={self.access.key}")).status == 303

    async def look(self, query: str = "") -> aiohttp.ClientWebSocketResponse:
        return await self.http.ws_connect(f"{self.url}/ws{query}")

    def pids(self) -> list[int]:
        return [int(path.stem) for path in self.folder.glob("*.json")]

    def about(self, pid: int) -> dict[str, Any]:
        told: dict[str, Any] = json.loads((self.folder / f"{pid}.json").read_text())
        return told

    def sent(self, pid: int) -> bytes:
        path = self.folder / f"{pid}.sent"
        return path.read_bytes() if path.exists() else b""


@asynccontextmanager
async def served(folder: Path, what: str = "waits", most: int = 3) -> AsyncIterator[Served]:
    jar = aiohttp.CookieJar(unsafe=True)  # an address of numbers may set cookies here
    async with aiohttp.ClientSession(cookie_jar=jar) as http:
        it = Served(folder, http, what, most)
        it.port = await it.server.start()
        try:
            yield it
        finally:
            await it.server.stop()
    assert not [pid for pid in it.pids() if runs(pid)], "a viewer's process was left behind"


def runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


async def test_without_the_key_there_is_nothing_but_a_sentence(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        for path in ("/", "/page.js", "/terminal.js", "/ready", "/ws", "/no-such-page"):
            answer = await it.get(path)
            assert (answer.status, await answer.text()) == (401, MISSING), path
        for key in ("", "x", it.access.key[:-1], it.access.key + "x", "\N{BASEBALL}"):
            answer = await it.get("/", params={"key": key})
            assert (answer.status, await answer.text()) == (403, WRONG), key
            assert "Set-Cookie" not in answer.headers
        name = f"moundfeed-{it.port}"
        answer = await it.get("/", cookies={name: "not-the-key"})
        assert (answer.status, await answer.text()) == (403, WRONG)
        with pytest.raises(aiohttp.WSServerHandshakeError):
            await it.look()
    assert not it.pids()


async def test_the_key_is_taken_out_of_the_address_and_kept_from_scripts(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        answer = await it.get(f"/?key={it.access.key}")
        assert (answer.status, answer.headers["Location"]) == (303, "/")
        cookie = answer.headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Lax" in cookie
        page = await it.get("/")
        assert page.status == 200
        assert it.access.key not in await page.text()
        other = Access(secure=True)
        assert other.key != it.access.key
        assert len(other.key) >= 22, "16 random bytes"


async def test_every_answer_carries_the_protecting_headers(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        answers = [await it.get("/"), await it.get("/?key=wrong")]
        await it.come_in()
        answers += [await it.get(path) for path in ("/", "/page.js", "/ready", "/nowhere")]
        answers.append(await it.http.post(it.url + "/"))
        assert [a.status for a in answers] == [401, 403, 200, 200, 204, 404, 405]
        for answer in answers:
            for name, value in PROTECTING.items():
                assert answer.headers[name] == value, (answer.url, name)
            policy = answer.headers["Content-Security-Policy"]
            assert "default-src 'none'" in policy
            assert "frame-ancestors 'none'" in policy
            assert "Server" not in answer.headers


async def test_the_page_asks_nobody_else(tmp_path: Path) -> None:
    """Each address in what is served leads to the server itself."""
    async with served(tmp_path) as it:
        await it.come_in()
        page = await (await it.get("/")).text()
        style = await (await it.get("/page.css")).text()
        places = re.findall(r"(?:src|href)=\"([^\"]*)\"", page) + re.findall(
            r"url\(\"(.*?)\"", style
        )
        assert len(places) >= 5
        for place in places:
            assert place == "data:," or re.fullmatch(r"/[\w.]+", place), place
            if place.startswith("/"):
                assert (await it.get(place)).status == 200, place
        for path in ("/", "/page.css", "/page.js", "/terminal.js", "/terminal.css"):
            text = re.sub(r"/\*.*?\*/", "", await (await it.get(path)).text(), flags=re.DOTALL)
            assert not re.search(r"https?://(?!www\.w3\.org)", text), path


async def test_another_page_cannot_open_the_screen(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        await it.come_in()
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await it.http.ws_connect(it.url + "/ws", origin="http://elsewhere.example")
        assert refused.value.status == 403
        answer = await it.get("/ready", headers={"Origin": "http://127.0.0.1:1"})
        assert (answer.status, await answer.text()) == (403, ELSEWHERE)
        async with await it.http.ws_connect(it.url + "/ws", origin=it.url) as socket:
            assert (await socket.receive(15)).data


async def test_only_so_many_look_on_at_once(tmp_path: Path) -> None:
    async with served(tmp_path, most=2) as it:
        await it.come_in()
        first, second = await it.look(), await it.look()
        await eventually(lambda: len(it.pids()) == 2)
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await it.look()
        assert refused.value.status == 503
        answer = await it.get("/ready")
        assert answer.status == 503
        assert "All 2 places to look on are taken" in await answer.text()
        await first.close()
        await eventually(lambda: it.told[-1] == 1)
        assert (await it.get("/ready")).status == 204
        assert sum(runs(pid) for pid in it.pids()) == 1
        await second.close()
        await eventually(lambda: it.told[-1] == 0)


async def test_the_process_of_a_viewer_gets_no_secret(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOUNDFEED_MQTT_PASSWORD", "clay-and-rubber")
    async with served(tmp_path) as it:
        await it.come_in()
        async with await it.look():
            await eventually(it.pids)
            about = json.dumps(it.about(it.pids()[0]))
    assert "clay-and-rubber" not in about
    assert it.access.key not in about


async def test_nonsense_from_a_page_is_passed_over(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        await it.come_in()
        async with await it.look("?width=1000000&height=-3") as socket:
            for text in (
                "", "{", "[]", "[1]", '["stdin"]', '["stdin", 5]', '["resize", {}]', "[" * 30_000,
                '["resize", {"width": "80", "height": 24}]', '["meta", {"type": "exit"}]',
                '["resize", {"width": 100000000, "height": 100000000}]',
            ):  # fmt: skip
                await socket.send_str(text)
            await socket.send_bytes(b"\x00\xff")
            await socket.send_json(["stdin", "d"])
            await eventually(lambda: it.pids() and b"D\x00\x00\x00\x01d" in it.sent(it.pids()[0]))
        pid = it.pids()[0]
        sizes = re.findall(rb'"width": (-?\d+), "height": (-?\d+)', it.sent(pid))
        assert sizes == [(b"500", b"200")]
        env = it.about(pid)["env"]
        assert (env["COLUMNS"], env["ROWS"]) == ("500", "8")
        assert b"exit" not in it.sent(pid)


async def test_a_viewer_who_falls_asleep_is_let_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """His tablet reads nothing and answers nothing: his process ends, nobody waits for him."""
    monkeypatch.setattr(server_module, "_HEARTBEAT_S", 0.3)
    async with served(tmp_path, "floods") as it:
        with socket.create_connection(("127.0.0.1", it.port)) as asleep:
            asleep.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, struct.calcsize("i"))
            asleep.sendall(
                (
                    f"GET /ws HTTP/1.1\r\nHost: 127.0.0.1:{it.port}\r\nUpgrade: websocket\r\n"
                    "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                    "Sec-WebSocket-Key: bm90IGEgc2VjcmV0IGF0IQ==\r\n"
                    f"Cookie: moundfeed-{it.port}={it.access.key}\r\n\r\n"
                ).encode()
            )
            # Awake until his process runs: a pong of no content, masked by zeros (RFC 6455, 5.5.3).
            await eventually(lambda: asleep.send(b"\x8a\x80\0\0\0\0") and it.pids())
            await eventually(lambda: it.told[-1] == 0, "the sleeper is let go")
            assert not runs(it.pids()[0])


async def test_a_screen_that_cannot_start_closes_its_page(tmp_path: Path) -> None:
    async with served(tmp_path, "fails") as it:
        await it.come_in()
        async with await it.look() as socket:
            kinds = [message.type async for message in socket]
            assert aiohttp.WSMsgType.BINARY not in kinds
        await eventually(lambda: it.told[-1] == 0)


async def test_the_end_of_the_server_ends_every_viewer(tmp_path: Path) -> None:
    async with served(tmp_path) as it:
        await it.come_in()
        sockets = [await it.look(), await it.look()]
        await eventually(lambda: len(it.pids()) == 2)
        await it.server.stop()
        assert not any(runs(pid) for pid in it.pids())
        for one in sockets:
            async with asyncio.timeout(15):
                while not one.closed:
                    await one.receive()
