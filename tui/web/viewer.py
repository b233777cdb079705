"""One viewer: a process of the screen, spoken to as textual-serve speaks to its apps."""

from __future__ import annotations

import asyncio
import contextlib
from asyncio.subprocess import PIPE, Process
from collections.abc import Sequence

from aiohttp import WSMessage, WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

_END_S = 2.0
_WORD_EVERY_S = 5.0
_MOST_TYPED = 4096
_COLUMNS, _ROWS = (20, 500), (8, 200)
#: The screen draws ten times a second; more is wasted on it.
_DRAWN_PER_S = "15"


class Viewer(AppService):
    """Runs ``command`` and carries its screen to ``websocket`` and the keys back."""

    def __init__(self, command: Sequence[str], websocket: web.WebSocketResponse) -> None:
        super().__init__(
            " ".join(command),
            write_bytes=websocket.send_bytes,
            write_str=websocket.send_str,
            close=self._close,
            download_manager=DownloadManager(),
        )
        self._words = tuple(command)
        self.websocket = websocket
        self._ending = False

    async def _close(self) -> None:
        await self.websocket.close()

    async def show(self, width: int, height: int) -> None:
        """Show the screen until the browser or the process is gone; the process ends with it."""
        try:
            await self.start(_within(width, _COLUMNS), _within(height, _ROWS))
            word = asyncio.create_task(self._give_signs())
            try:
                async for message in self.websocket:
                    if message.type is WSMsgType.TEXT:
                        await self._take(message)
            finally:
                word.cancel()
        finally:
            await self.end()

    async def run(self) -> None:
        """Carry what the process says until it ends; its page is closed with it."""
        await super().run()
        if not self._ending:
            await self._close()

    async def end(self) -> None:
        """End the process, however stuck it is."""
        self._ending = True
        process = self._process
        if process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            process.terminate()
        try:
            async with asyncio.timeout(_END_S):
                await process.wait()
        except TimeoutError:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        # What a sleeper never read keeps the pipes open; asyncio has no public way to close them.
        transport: asyncio.SubprocessTransport = vars(process)["_transport"]
        transport.close()
        await asyncio.sleep(0)  # it closes in the loop's next turn

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        """Start the process without a shell, and without the secrets of this one."""
        environment = self._build_environment(width=width, height=height)
        environment["TEXTUAL_FPS"] = _DRAWN_PER_S
        for name in [name for name in environment if "PASSWORD" in name]:
            del environment[name]
        self._process = await asyncio.create_subprocess_exec(
            *self._words, stdin=PIPE, stdout=PIPE, stderr=PIPE, env=environment
        )
        self._stdin = self._process.stdin
        return self._process

    async def _take(self, message: WSMessage) -> None:
        """Do what the page asks; whatever else is sent is passed over."""
        try:
            match message.json():
                case ["stdin", str(typed)]:
                    await self.send_bytes(typed[:_MOST_TYPED].encode())
                case ["resize", {"width": int(width), "height": int(height)}]:
                    await self.set_terminal_size(_within(width, _COLUMNS), _within(height, _ROWS))
                case ["focus"]:
                    await self.focus()
                case ["blur"]:
                    await self.blur()
        except (ValueError, RecursionError):
            return

    async def _give_signs(self) -> None:
        """Tell the page that we are there, so that it notices when we are not."""
        while True:
            await self.websocket.send_str('["here"]')
            await asyncio.sleep(_WORD_EVERY_S)


def _within(value: int, limits: tuple[int, int]) -> int:
    return min(max(value, limits[0]), limits[1])
