"""What every command with a screen shares: its look, and running it over a link."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from tui.commands.errors import RunFailed

if TYPE_CHECKING:
    from stream.layout import Layout
    from stream.monitor.viewer import ViewerLink
    from stream.roster import Roster
    from tui.app import MoundfeedApp


def add_screen_arguments(parser: argparse.ArgumentParser) -> None:
    """Add how the screen looks."""
    group = parser.add_argument_group("screen")
    group.add_argument(
        "--units", choices=("us", "si"), default="us", help="mph, lbf, ft; or m/s, N, m (us)"
    )
    group.add_argument("--decimal", choices=(".", ","), default=".", help="decimal mark (.)")
    group.add_argument("--look", choices=("dark", "light"), default="dark", help="(dark)")


def show(
    arguments: argparse.Namespace,
    make_link: Callable[[], ViewerLink],
    layout: Layout | None,
    roster: Roster,
    *,
    notice: str = "",
    owns_monitor: bool = False,
    check: Mapping[str, Any] | None = None,
) -> bool:
    """Run the screen until it is left; return whether the monitor is to end with it."""
    import asyncio
    import signal

    from tui.app import MoundfeedApp
    from tui.units import System, Units

    async def run() -> MoundfeedApp:
        async with make_link() as link:
            app = MoundfeedApp(
                link,
                layout,
                roster,
                Units(System(arguments.units), arguments.decimal),
                arguments.look,
                notice=notice,
                owns_monitor=owns_monitor,
                check=check,
            )
            # A terminal that is gone, or an end from outside, is a way of leaving.
            loop = asyncio.get_running_loop()
            for number in (signal.SIGHUP, signal.SIGTERM):
                loop.add_signal_handler(number, app.exit)
            await app.run_async()
            return app

    app = asyncio.run(run())
    if app.return_code:
        raise RunFailed("the screen ended with an error; the monitor, if it runs, goes on")
    return app.end_monitor
