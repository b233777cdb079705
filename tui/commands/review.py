"""``moundfeed review``: stored sessions on the screen, after the last pitch."""

from __future__ import annotations

import argparse
from pathlib import Path

from tui.commands.errors import RunFailed
from tui.commands.screen import add_screen_arguments


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
    parser.add_argument("sessions", nargs="+", type=Path, metavar="DIR", help="a session's folder")
    parser.add_argument(
        "--result", metavar="NAME", help="show this recomputed result instead of the first one"
    )
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Run the screen until it is left."""
    from analysis.sessions.stored import read_session
    from tui.review.app import ReviewApp
    from tui.units import System, Units

    sessions = [read_session(folder, arguments.result) for folder in arguments.sessions]
    sessions.sort(key=lambda s: s.about.created)
    units = Units(System(arguments.units), arguments.decimal)
    app = ReviewApp(sessions, units, arguments.look)
    app.run()
    if app.return_code:
        raise RunFailed("the screen ended with an error; the stored sessions are as they were")
