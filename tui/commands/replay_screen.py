"""``moundfeed replay --screen``: a recording on the coach's and the operator's screens."""

from __future__ import annotations

import argparse
import asyncio
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput
from tui.commands.recorded import Recorded, parts_of
from tui.commands.recording_words import damage
from tui.commands.screen import run_screen, units_of

if TYPE_CHECKING:
    from tui.replaying import ReplayApp


def show_replay(arguments: argparse.Namespace, opened: list[Recorded]) -> None:
    """Show a replay until it is left."""
    from stream.monitor.playback import Playback
    from stream.monitor.view import LocalLink
    from stream.snapshot import Level, Sentence
    from tui.replaying import ReplayApp

    if not sys.stdout.isatty():
        raise BadInput("--screen needs a terminal; without it the results are lines and files")
    parts = parts_of(opened, arguments.source)
    setup = parts[0].setup
    said = [text for part in parts for text in damage(part.recording)]

    @asynccontextmanager
    async def open_app() -> AsyncIterator[ReplayApp]:
        link = LocalLink(arguments.source)
        link.say([Sentence(Level.INFO, "recording", text) for text in said])
        playback = Playback(parts, link, only=arguments.source, speed=arguments.speed or 1.0)
        app = ReplayApp(playback, setup.layout, setup.roster, units_of(arguments), arguments.look)
        playing = asyncio.create_task(playback.run(), name="playback")
        playing.add_done_callback(lambda _: app.exit())
        try:
            yield app
        finally:
            playing.cancel()
            with suppress(asyncio.CancelledError):
                await playing

    run_screen(open_app)
