"""A real headless browser, spoken to over its own debugging protocol."""

from __future__ import annotations

import asyncio
import base64
import itertools
import os
import re
import shutil
import subprocess
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import aiohttp

DEADLINE_S = 120.0


def program() -> str:
    """Return the browser; what uses it cannot do without one."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "chromium is needed: apt-get install chromium"
    return path


class Page:
    """One page of the browser."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._numbers = itertools.count(1)
        self._answers: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self.requested: list[str] = []
        self._drawn = bytearray()
        self.said: list[str] = []

    async def listen(self) -> None:
        """Take what the browser says until it is closed."""
        async for message in self._socket:
            told = message.json()
            answer = self._answers.pop(told.get("id", 0), None)
            if answer is not None and not answer.done():
                answer.set_result(told)
            params = told.get("params", {})
            if told.get("method") == "Network.requestWillBeSent":
                self.requested.append(params["request"]["url"])
            elif told.get("method") == "Network.webSocketCreated":
                self.requested.append(params["url"])
                self._drawn.clear()
            elif params.get("response", {}).get("opcode") == 2:  # a frame of bytes on the socket
                self._drawn += base64.b64decode(params["response"]["payloadData"])
            wrong = params.get("entry", {}).get("level") == "error"
            if wrong or told.get("method") == "Runtime.exceptionThrown":
                self.said.append(str(params))

    async def ask(self, method: str, **params: object) -> dict[str, Any]:
        """Send a command and return its result."""
        told = await self._tell(method, **params)
        assert "error" not in told, told
        result: dict[str, Any] = told["result"]
        return result

    async def _tell(self, method: str, **params: object) -> dict[str, Any]:
        number = next(self._numbers)
        self._answers[number] = asyncio.get_running_loop().create_future()
        await self._socket.send_json({"id": number, "method": method, "params": params})
        async with asyncio.timeout(DEADLINE_S):
            return await self._answers[number]

    @property
    def drawn(self) -> str:
        """What the terminal was given to draw since its socket was opened, without its codes."""
        text = self._drawn.decode("utf-8", "replace")
        return re.sub(r"\x1b\[[0-9;:?$<>=]*[a-zA-Z]", "", text)

    def forget(self) -> None:
        """Look only at what is drawn from now on."""
        self._drawn.clear()

    async def until_drawn(self, *words: str) -> None:
        """Wait until all ``words`` were drawn."""
        deadline = time.monotonic() + DEADLINE_S
        while not all(word in self.drawn for word in words):
            assert time.monotonic() < deadline, (words, self.drawn[-2000:], await self.text())
            await asyncio.sleep(0.2)

    async def value(self, expression: str) -> Any:
        """Return what a JavaScript expression gives; None where the page was just left."""
        told = await self._tell("Runtime.evaluate", expression=expression, returnByValue=True)
        return told.get("result", {}).get("result", {}).get("value")

    async def until(self, expression: str) -> None:
        """Wait until a JavaScript expression is true."""
        deadline = time.monotonic() + DEADLINE_S
        while not await self.value(expression):
            assert time.monotonic() < deadline, (expression, self.said, await self.text())
            await asyncio.sleep(0.1)

    async def text(self) -> str:
        """Return what the page itself says, without the terminal."""
        return str(await self.value("document.body ? document.body.innerText : ''"))

    async def size(self, width: int, height: int) -> None:
        """Be a screen of so many points."""
        await self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip

    async def open(self, url: str) -> None:
        """Go to ``url``."""
        await self.ask("Page.navigate", url=url)

    async def click(self, x: int, y: int) -> None:
        """Tap on a place."""
        for kind in ("mousePressed", "mouseReleased"):
            await self.ask(
                "Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1
            )

    async def press(self, key: str) -> None:
        """Press a letter."""
        await self.ask("Input.dispatchKeyEvent", type="keyDown", text=key, key=key)
        await self.ask("Input.dispatchKeyEvent", type="keyUp", key=key)

    async def picture(self) -> bytes:
        """Take a picture of the page (PNG)."""
        told = await self.ask("Page.captureScreenshot", format="png")
        return base64.b64decode(told["data"])


@contextmanager
def running(folder: Path) -> Iterator[int]:
    """Run the browser with an empty profile in ``folder``; give its debugging port."""
    words = [program(), "--headless=new", "--no-first-run", "--disable-gpu", "--hide-scrollbars"]
    words += ["--disable-background-networking", "--disable-dev-shm-usage", "--mute-audio"]
    words += [f"--user-data-dir={folder / 'profile'}", "--remote-debugging-port=0"]
    if os.geteuid() == 0:
        words.append("--no-sandbox")  # it refuses to run as root otherwise
    with (folder / "browser.log").open("wb") as log:
        process = subprocess.Popen([*words, "about:blank"], stdout=log, stderr=log)
        try:
            file = folder / "profile" / "DevToolsActivePort"
            deadline = time.monotonic() + DEADLINE_S
            while not (file.exists() and file.read_text().count("\n")):
                assert process.poll() is None, (folder / "browser.log").read_text()
                assert time.monotonic() < deadline, "the browser does not answer"
                time.sleep(0.05)
            yield int(file.read_text().split()[0])
        finally:
            process.terminate()
            process.wait(20)


@asynccontextmanager
async def opened(port: int) -> AsyncIterator[Page]:
    """Attach to the one page of the browser."""
    async with aiohttp.ClientSession() as http:
        async with http.get(f"http://127.0.0.1:{port}/json/list") as answer:
            pages = [p for p in await answer.json() if p["type"] == "page"]
        address = pages[0]["webSocketDebuggerUrl"]
        async with http.ws_connect(address, max_msg_size=2**26) as socket:
            page = Page(socket)
            listening = asyncio.create_task(page.listen())
            # What was shown before may still be asking for a server that is gone.
            await page.open("about:blank")
            await page.ask("Log.clear")
            for domain in ("Page", "Network", "Log", "Runtime"):
                await page.ask(f"{domain}.enable")
            yield page
            listening.cancel()
