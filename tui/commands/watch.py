"""``moundfeed watch``: the screen of a live session.

What receives and records the feed is a process of its own, the monitor. This
command starts one, or finds the one that runs for the session, and looks on.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands import first_steps
from tui.commands.connection import add_connection_arguments, connection_options
from tui.commands.errors import BadInput, RunFailed
from tui.commands.screen import add_screen_arguments, show

if TYPE_CHECKING:
    from stream.layout import Layout
    from stream.monitor.plan import Plan
    from stream.roster import Roster


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "watch",
        help="the screen: follow a session live, pitch by pitch",
        description="Shows a mound live: each pitch as it is thrown, and the state of the deck "
        "and the feed. With --from it starts the monitor that receives and records; with "
        "--session alone it comes back to a monitor that is running; with --at it looks on at "
        "one on another computer. Every key is on the screen; press ? for help.",
    )
    where = parser.add_argument_group("where from")
    where.add_argument(
        "--from",
        dest="feed",
        metavar="URL",
        help="tcp://HOST:PORT of the device, or mqtt://[user@]HOST:PORT of the broker",
    )
    where.add_argument(
        "--session", type=Path, metavar="DIR", help="keep everything of the session in one folder"
    )
    where.add_argument(
        "--at",
        metavar="tcp://HOST:PORT",
        help="look on at a monitor that was started with --view there; nothing can be changed",
    )
    where.add_argument("--view-only", action="store_true", help="look on; change nothing")
    parser.add_argument("--layout", metavar="FILE", help="the mound's layout (file or name)")
    parser.add_argument("--pitchers", type=Path, metavar="roster.csv", help="the roster")
    parser.add_argument("--pitcher", default="", metavar="P03", help="who throws first")
    parser.add_argument("--settings", type=Path, metavar="FILE.toml", help="measurement settings")
    parser.add_argument(
        "--view", metavar="tcp://HOST:PORT", help="let screens elsewhere look on (PORT, PORT+1)"
    )
    parser.add_argument(
        "--view-keys", metavar="DIR", help="the server folder of 'moundfeed keys' for --view"
    )
    parser.add_argument(
        "--open-to-network",
        action="store_true",
        help="allow --view to listen on other addresses than this computer's own",
    )
    add_connection_arguments(parser)
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Run the screen."""
    from stream.monitor.presence import RuntimeFolderError

    try:
        if arguments.at:
            if arguments.feed or arguments.session:
                raise BadInput("--at looks on elsewhere; leave out --from and --session")
            _look_on(arguments)
        else:
            _watch(arguments)
    except RuntimeFolderError as error:
        raise RunFailed(str(error)) from error


def _look_on(arguments: argparse.Namespace) -> None:
    from stream.access.curve import client_keys
    from stream.monitor.viewer import ViewerLink
    from stream.roster import Roster

    options = connection_options(arguments)
    keys = client_keys(Path(options.keys)) if options.keys else None

    def link() -> ViewerLink:
        return ViewerLink(arguments.at, source=options.source, view_only=True, keys=keys)

    show(arguments, link, _layout(arguments), _roster(arguments) or Roster())


def _watch(arguments: argparse.Namespace) -> None:
    from stream.access.address import parse_address
    from stream.monitor.presence import find, held_elsewhere, is_held, runtime_folder
    from stream.monitor.process import MonitorError, start_monitor, stop_monitor
    from stream.monitor.viewer import ViewerLink
    from stream.roster import Roster

    if arguments.feed:
        parse_address(arguments.feed)  # a wrong one is said before anything is begun
    session: Path | None = arguments.session
    runtime = runtime_folder(session if session else f"watch-{os.getpid()}")
    running = find(runtime)
    layout, roster = _layout(arguments), _roster(arguments)
    if running is None:
        if session is not None and is_held(session):
            raise RunFailed(held_elsewhere(session))
        if not arguments.feed:
            raise BadInput(
                f"no monitor runs for {session}; start one with --from URL"
                if session
                else first_steps.WATCH
            )
        plan = _plan(arguments, layout, roster)
    try:
        if running is None:
            start_monitor(plan, runtime)
        leave = show(
            arguments,
            lambda: ViewerLink(runtime, view_only=arguments.view_only),
            layout,
            roster or Roster(),
            owns_monitor=session is not None and not arguments.view_only,
        )
        if leave or (session is None and running is None):
            stop_monitor(runtime)
    except MonitorError as error:
        raise RunFailed(str(error)) from error


def _plan(arguments: argparse.Namespace, layout: Layout | None, roster: Roster | None) -> Plan:
    from stream.files import load_settings, settings_text
    from stream.monitor.plan import Plan

    if layout is None:
        raise BadInput("--layout is needed: a layout file, or the name of a shipped layout")
    settings = load_settings(arguments.settings) if arguments.settings else None
    session: Path | None = arguments.session
    return Plan(
        feed=arguments.feed,
        layout=layout.origin_text,
        settings=settings_text(settings) if settings else "",
        roster=roster.coded().to_csv() if roster else "",
        pitcher=arguments.pitcher,
        options=connection_options(arguments),
        session=str(session.absolute()) if session else None,
        view=arguments.view,
        view_keys=str(Path(arguments.view_keys).absolute()) if arguments.view_keys else None,
        open_to_network=arguments.open_to_network,
        # Without a session nothing is kept, and nobody could find the monitor again.
        owner=None if session else os.getpid(),
    )


def _layout(arguments: argparse.Namespace) -> Layout | None:
    """Return the layout asked for, or that of the session's folder, or None."""
    from stream.files import load_layout

    if arguments.layout:
        return load_layout(arguments.layout)
    kept = arguments.session / "layout.toml" if arguments.session else None
    return load_layout(str(kept)) if kept is not None and kept.exists() else None


def _roster(arguments: argparse.Namespace) -> Roster | None:
    """Return the roster asked for, or that of the session's folder (codes only), or None."""
    from stream.files import load_roster

    if arguments.pitchers:
        return load_roster(arguments.pitchers)
    kept = arguments.session / "roster.csv" if arguments.session else None
    return load_roster(kept) if kept is not None and kept.exists() else None
