"""Who may look: whoever holds the link with its key, and nobody else."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from aiohttp import web

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_KEY_BYTES = 16
_COOKIE_S = 12 * 3600
MISSING = (
    "This page needs the whole link that 'moundfeed serve' showed when it was started, with its "
    "key. Ask whoever runs the mound's computer for it.\n"
)
WRONG = (
    "The key of this link is not the right one (any more): each start of 'moundfeed serve' makes "
    "a new one. Ask whoever runs the mound's computer for the link.\n"
)
ELSEWHERE = "The screen can only be opened from its own page.\n"

#: Nothing from elsewhere, nothing framed, nothing kept. Styles: the terminal sets its own.
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; "
    "style-src 'self' 'unsafe-inline'; font-src 'self'; img-src 'self' data:; "
    "connect-src 'self' {sockets}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "X-Robots-Tag": "noindex",
    "Cache-Control": "no-store",
}


class Access:
    """A random key; compared in constant time, kept by the browser in a cookie."""

    def __init__(self, *, secure: bool) -> None:
        self.key = secrets.token_urlsafe(_KEY_BYTES)
        self._secure = secure

    @web.middleware
    async def check(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Let in who has the key; take it out of the address at once."""
        response: web.StreamResponse
        given = request.query.get("key")
        held = request.cookies.get(self._cookie(request))
        if given is not None:
            response = self._welcome(request) if self._is_right(given) else _refusal(403, WRONG)
        elif held is None:
            response = _refusal(401, MISSING)
        elif not self._is_right(held):
            response = _refusal(403, WRONG)
        elif "Origin" in request.headers and not _own_origin(request):
            response = _refusal(403, ELSEWHERE)
        else:
            return await handler(request)
        return response

    def _is_right(self, key: str) -> bool:
        return hmac.compare_digest(key.encode(), self.key.encode())

    def _welcome(self, request: web.Request) -> web.Response:
        response = web.Response(status=303, headers={"Location": "/"})
        response.set_cookie(
            self._cookie(request),
            self.key,
            max_age=_COOKIE_S,
            httponly=True,
            secure=self._secure,
            samesite="Lax",
        )
        return response

    def _cookie(self, request: web.Request) -> str:
        # Cookies know no ports: two of these on one computer must not take each other's.
        port = urlsplit(f"//{request.host}").port
        return f"moundfeed-{port or 0}"


async def add_headers(request: web.Request, response: web.StreamResponse) -> None:
    """Put the protecting headers on every answer."""
    host = _host(request)
    sockets = f"ws://{host} wss://{host}" if host else ""
    for name, value in HEADERS.items():
        response.headers[name] = value.replace("{sockets}", sockets)
    response.headers.popall("Server", None)


def _own_origin(request: web.Request) -> bool:
    return urlsplit(request.headers["Origin"]).netloc == request.host


def _host(request: web.Request) -> str:
    """Return the host as the browser named it, if it is fit to stand in a header."""
    host = request.host
    return host if all(c.isascii() and (c.isalnum() or c in ".-:[]_") for c in host) else ""


def _refusal(status: int, sentence: str) -> web.Response:
    return web.Response(status=status, text=sentence)
