"""The server: a page with the screen of a running monitor, for a few viewers at a time.

Built on textual-serve, whose script draws the terminal in the browser and
whose protocol the screen's process speaks. Page, access, headers and limits
are our own; nothing of the page comes from another computer.
"""

from __future__ import annotations

import ssl
from collections.abc import Awaitable, Callable, Sequence
from importlib.resources import files
from pathlib import Path

from aiohttp import web
from textual_serve.server import Server, to_int

from tui.web.access import Access, add_headers
from tui.web.viewer import Viewer

_MOST_BYTES = 64 * 1024
_HEARTBEAT_S = 10.0
_END_S = 3.0
FULL = "All {most} places to look on are taken. This page opens by itself when one is free.\n"

#: Address, where the file lies, kind.
_OWN = (
    ("/page.js", "page.js", "text/javascript"),
    ("/page.css", "page.css", "text/css"),
)
_TERMINALS = (
    ("/terminal.js", "js/textual.js", "text/javascript"),
    ("/terminal.css", "css/xterm.css", "text/css"),
    ("/terminal.ttf", "fonts/RobotoMono-VariableFont_wght.ttf", "font/ttf"),
)


class ScreenServer(Server):
    """Serves ``command``'s screen to at most ``most`` viewers; ``tell`` hears how many look on."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        host: str,
        port: int,
        access: Access,
        most: int,
        look: str,
        tell: Callable[[int], None],
        tls: ssl.SSLContext | None = None,
    ) -> None:
        super().__init__(" ".join(command), host=host, port=port, title="moundfeed")
        self._words = tuple(command)
        self._access = access
        self._most = most
        self._look = look
        self._tell = tell
        self._tls = tls
        self._viewers: set[Viewer] = set()
        self._runner: web.AppRunner | None = None

    async def start(self) -> int:
        """Listen, and return the port; raise OSError."""
        self._runner = web.AppRunner(
            await self._make_app(), access_log=None, shutdown_timeout=_END_S
        )
        await self._runner.setup()
        site = web.TCPSite(self._runner, self.host, self.port, ssl_context=self._tls)
        await site.start()
        port: int = self._runner.addresses[0][1]
        return port

    async def stop(self) -> None:
        """End every viewer and stop listening."""
        if self._runner is not None:
            await self._runner.cleanup()

    async def on_startup(self, app: web.Application) -> None:
        """Say nothing: the command says what is to be said."""

    async def on_shutdown(self, app: web.Application) -> None:
        """End the viewers."""
        for viewer in list(self._viewers):
            await viewer.end()
            await viewer.websocket.close(code=1001)

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """Show the screen to one viewer until he is gone."""
        if len(self._viewers) >= self._most:
            raise web.HTTPServiceUnavailable(text=FULL.format(most=self._most))
        websocket = web.WebSocketResponse(heartbeat=_HEARTBEAT_S, max_msg_size=_MOST_BYTES)
        viewer = Viewer(self._words, websocket)
        self._viewers.add(viewer)
        try:
            await websocket.prepare(request)
            self._tell(len(self._viewers))
            width, height = (to_int(request.query.get(n, ""), 80) for n in ("width", "height"))
            await viewer.show(width, height)
        finally:
            self._viewers.discard(viewer)
            self._tell(len(self._viewers))
            if request.transport is not None:
                request.transport.abort()  # a viewer who fell asleep takes nothing any more
        return websocket

    async def _make_app(self) -> web.Application:
        app = web.Application(middlewares=[self._access.check], client_max_size=_MOST_BYTES)
        own = files("tui.web")
        page = own.joinpath("page.html").read_text("utf-8").replace("LOOK", self._look)
        app.add_routes(
            [
                web.get("/", _giving(page.encode(), "text/html")),
                web.get("/ready", self._ready),
                web.get("/ws", self.handle_websocket),
                *(web.get(at, _giving(own.joinpath(n).read_bytes(), kind)) for at, n, kind in _OWN),
                *(
                    web.get(at, _giving((Path(self.statics_path) / name).read_bytes(), kind))
                    for at, name, kind in _TERMINALS
                ),
            ]
        )
        app.on_response_prepare.append(add_headers)
        app.on_shutdown.append(self.on_shutdown)
        return app

    async def _ready(self, request: web.Request) -> web.Response:
        """Tell a page that waits whether it can open the screen."""
        if len(self._viewers) >= self._most:
            return web.Response(status=503, text=FULL.format(most=self._most))
        return web.Response(status=204)


def _giving(body: bytes, kind: str) -> Callable[[web.Request], Awaitable[web.Response]]:
    charset = "utf-8" if kind.startswith("text/") else None

    async def give(request: web.Request) -> web.Response:
        return web.Response(body=body, content_type=kind, charset=charset)

    return give
