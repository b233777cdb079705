"""``moundfeed review``: stored sessions on the screen, after the last pitch."""

from __future__ import annotations

import argparse
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput
from tui.commands.first_steps import name_sessions, no_session
from tui.commands.screen import add_screen_arguments, run_screen, units_of

if TYPE_CHECKING:
    from tui.review.app import ReviewApp


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "review",
        help="look back at stored sessions: pitches, metrics, curves, days side by side",
        description="Shows stored sessions on the screen: the table of pitches at once, curves "
        "and pressure paths when the recordings have been run through the measurement again. "
        "Pitches can be voided, noted, given to another pitcher or get a ball speed afterwards; "
        "nothing that was measured is changed. Every key is on the screen; press ? for help.",
    )
    parser.add_argument("sessions", nargs="*", type=Path, metavar="DIR", help="a session's folder")
    parser.add_argument(
        "--result", metavar="NAME", help="show this recomputed result instead of the first one"
    )
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Run the screen until it is left."""
    from analysis.sessions.order import in_time_order
    from analysis.sessions.stored import read_session
    from tui.review.app import ReviewApp

    folders = arguments.sessions
    if not folders:
        raise BadInput(name_sessions("moundfeed review"))
    for folder in folders:
        if said := no_session(folder, "moundfeed review"):
            raise BadInput(said)
    if len({folder.resolve() for folder in folders}) < len(folders):
        raise BadInput("a session is named twice")
    sessions = in_time_order(read_session(folder, arguments.result) for folder in folders)

    @asynccontextmanager
    async def opened() -> AsyncIterator[ReviewApp]:
        yield ReviewApp(sessions, units_of(arguments), arguments.look)

    run_screen(opened)
