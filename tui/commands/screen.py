"""What every command with a screen shares: its look, and running it over a link."""

from __future__ import annotations

import argparse
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from typing import TYPE_CHECKING, TypeVar

from tui.commands.errors import RunFailed

if TYPE_CHECKING:
    from textual.app import App

    from stream.layout import Layout
    from stream.monitor.viewer import ViewerLink
    from stream.roster import Roster
    from tui.app import MoundfeedApp
    from tui.units import Units

#: How long a screen that is ended from outside may take to put things away, s.
_LEAVE_S = 10.0
#: How often it is looked whether the terminal is still there, s.
_LOOK_S = 1.0
Shown = TypeVar("Shown", bound="App[None]")


def add_screen_arguments(parser: argparse.ArgumentParser) -> None:
    """Add how the screen looks."""
    group = parser.add_argument_group("screen")
    add_units_arguments(group)
    group.add_argument("--look", choices=("dark", "light"), default="dark", help="(dark)")


def add_units_arguments(to: argparse._ActionsContainer) -> None:
    """Add how numbers are written."""
    to.add_argument(
        "--units", choices=("us", "si"), default="us", help="mph, lbf, ft; or m/s, N, m (us)"
    )
    to.add_argument(
        "--decimal",
        choices=(".", ","),
        default=".",
        metavar="MARK",
        help="decimal mark, . or , (.)",
    )


def show(
    arguments: argparse.Namespace,
    make_link: Callable[[], ViewerLink],
    layout: Layout | None,
    roster: Roster,
    *,
    notice: str = "",
    owns_monitor: bool = False,
) -> bool:
    """Run the screen until it is left; return whether the monitor is to end with it."""
    from tui.app import MoundfeedApp
    from tui.looking import LookingApp

    @asynccontextmanager
    async def opened() -> AsyncIterator[MoundfeedApp]:
        async with make_link() as link:
            yield (LookingApp if link.view_only else MoundfeedApp)(
                link,
                layout,
                roster,
                units_of(arguments),
                arguments.look,
                notice=notice or ("looking on" if link.view_only else ""),
                owns_monitor=owns_monitor,
            )

    return run_screen(opened).end_monitor


def units_of(arguments: argparse.Namespace) -> Units:
    """Return how numbers are to be written."""
    from tui.units import System, Units

    return Units(System(arguments.units), arguments.decimal)


def run_screen(open_app: Callable[[], AbstractAsyncContextManager[Shown]]) -> Shown:
    """Run the app that ``open_app`` opens until it is left, and return it."""
    import asyncio
    import os
    import signal
    import sys
    import threading

    from stream.monitor.memory import keep_large_blocks_apart, set_aside_what_stays
    from tui.tidying import tidy

    numbers = (signal.SIGHUP, signal.SIGTERM)
    before = [signal.getsignal(number) for number in numbers]
    at_last = threading.Timer(_LEAVE_S, os._exit, (1,))
    at_last.daemon = True
    ended = threading.Event()

    def watch_terminal(descriptor: int, leave: Callable[[], None]) -> None:
        """Leave when the terminal is gone, though nobody says so (make keeps it to itself)."""
        while not ended.wait(_LOOK_S):
            if not os.isatty(descriptor):
                leave()
                return

    keep_large_blocks_apart()

    async def run() -> Shown:
        async with open_app() as app:
            loop = asyncio.get_running_loop()

            def leave(*_: object) -> None:
                """A terminal that is gone, or an end from outside, is a way of leaving."""
                # Who still writes to a terminal that is gone may wait for ever, and the loop with
                # him; a monitor that belongs to this screen sees that it has ended.
                if not at_last.is_alive():
                    at_last.start()
                loop.call_soon_threadsafe(app.exit)

            # Not the loop's own handlers: they need a loop that still goes round.
            for number in numbers:
                signal.signal(number, leave)
            stdin = sys.__stdin__
            if stdin is not None and stdin.isatty():
                watched = (stdin.fileno(), leave)
                threading.Thread(target=watch_terminal, args=watched, daemon=True).start()
            set_aside_what_stays()
            tidying = asyncio.create_task(tidy(), name="tidying")
            try:
                await app.run_async()
            finally:
                tidying.cancel()
            return app

    try:
        app = asyncio.run(run())
    finally:
        ended.set()
        at_last.cancel()
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)
    if app.return_code:
        raise RunFailed("the screen ended with an error; the monitor, if it runs, goes on")
    return app
