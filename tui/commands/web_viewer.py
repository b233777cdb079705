"""The process of one viewer in a browser; started by ``moundfeed serve``, never by hand."""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from tui.commands.screen import run_screen, units_of

if TYPE_CHECKING:
    from stream.layout import Layout
    from stream.monitor.viewer import ViewerLink
    from tui.looking import LookingApp

_LOOK_S = 1.0


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """At which monitor a viewer looks, and how it is shown. No secret is in it."""

    session: str | None = None
    at: str | None = None
    keys: str | None = None
    source: str | None = None
    units: str
    decimal: str
    look: str


def command(look: Look) -> list[str]:
    """Return the words that start a viewer."""
    return [sys.executable, "-m", "tui.commands.web_viewer", msgspec.json.encode(look).decode()]


def main() -> None:
    """Show the screen until the browser or the server is gone."""
    from tui.looking import LookingApp

    look = msgspec.json.decode(sys.argv[1], type=Look)
    shown = argparse.Namespace(units=look.units, decimal=look.decimal)
    server = os.getppid()

    @asynccontextmanager
    async def open_app() -> AsyncIterator[LookingApp]:
        async with _link(look) as link:
            app = LookingApp(
                link, _layout(look), units=units_of(shown), look=look.look, notice="looking on"
            )
            _leave_with(server, app)
            yield app

    run_screen(open_app)


def _link(look: Look) -> ViewerLink:
    from stream.access.curve import client_keys
    from stream.monitor.presence import runtime_folder
    from stream.monitor.viewer import ViewerLink

    if look.at is not None:
        keys = client_keys(Path(look.keys)) if look.keys else None
        return ViewerLink(look.at, source=look.source, view_only=True, keys=keys)
    assert look.session is not None
    return ViewerLink(runtime_folder(Path(look.session)), view_only=True)


def _layout(look: Look) -> Layout | None:
    """Return the session's layout, to draw the deck to scale; None where it is elsewhere."""
    from stream.files import load_layout

    kept = Path(look.session) / "layout.toml" if look.session else None
    return load_layout(str(kept)) if kept is not None and kept.exists() else None


def _leave_with(server: int, app: LookingApp) -> None:
    """End when the server has died in whatever way: nobody could end this process then."""
    if os.getppid() == server:
        asyncio.get_running_loop().call_later(_LOOK_S, _leave_with, server, app)
    else:
        app.exit()


if __name__ == "__main__":
    main()
