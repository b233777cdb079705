"""``moundfeed log``: a live feed recorded and measured without a screen.

On a terminal it is also the plain mode for screen readers: one sentence a
pitch, line by line, nothing that moves.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.connection import add_connection_arguments, connection_options
from tui.commands.errors import BadInput, RunFailed
from tui.commands.screen import add_units_arguments, units_of

if TYPE_CHECKING:
    from stream.monitor.keepers import Keeper
    from stream.monitor.plan import Plan
    from tui.units import Units


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "log",
        help="record and measure a live feed without a screen",
        description="Follows a live feed until it is stopped (Ctrl-C) or has seen --pitches "
        "pitches. Each pitch becomes one line of the --jsonl file; on a terminal each pitch is "
        "also told in one plain sentence.",
    )
    parser.add_argument(
        "--from",
        dest="feed",
        required=True,
        metavar="URL",
        help="tcp://HOST:PORT of the device, or mqtt://[user@]HOST:PORT of the broker "
        "(mqtts:// for a protected one)",
    )
    parser.add_argument("--layout", metavar="FILE", help="the mound's layout (file or name)")
    parser.add_argument("--jsonl", metavar="OUT", help="write one JSON object a pitch")
    parser.add_argument(
        "--record", metavar="FILE.mcap", help="record the feed (a session has its own recording)"
    )
    parser.add_argument(
        "--session", type=Path, metavar="DIR", help="keep everything of the session in one folder"
    )
    parser.add_argument("--pitchers", type=Path, metavar="roster.csv", help="the roster")
    parser.add_argument("--pitcher", default="", metavar="P03", help="who is throwing")
    parser.add_argument("--settings", type=Path, metavar="FILE.toml", help="measurement settings")
    parser.add_argument("--pitches", type=_count, metavar="N", help="end after N pitches")
    parser.add_argument(
        "--publish",
        metavar="URL",
        help="publish pitches, foot contacts and health: tcp://127.0.0.1:PORT listens, "
        "mqtt://[user@]HOST:PORT goes through a broker",
    )
    parser.add_argument(
        "--publish-keys", metavar="DIR", help="the server folder of 'moundfeed keys' (tcp://)"
    )
    parser.add_argument(
        "--view",
        metavar="tcp://HOST:PORT",
        help="let screens elsewhere look on (they cannot change anything); uses PORT and PORT+1",
    )
    parser.add_argument(
        "--view-keys", metavar="DIR", help="the server folder of 'moundfeed keys' for --view"
    )
    parser.add_argument(
        "--open-to-network",
        action="store_true",
        help="allow --publish and --view to listen on other addresses than this computer's own",
    )
    add_connection_arguments(parser)
    add_units_arguments(parser.add_argument_group("lines on a terminal"))
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Run the monitor in this process."""
    import asyncio
    from functools import partial

    from stream.monitor.compose import Incomplete, run_plan
    from stream.monitor.presence import AlreadyRunning, runtime_folder
    from stream.monitor.service import TaskFailed

    plan = plan_of(arguments)
    runtime = runtime_folder(arguments.session) if arguments.session else None
    try:
        asyncio.run(
            run_plan(plan, runtime=runtime, tellers=[partial(_teller, units_of(arguments))])
        )
    except (TaskFailed, Incomplete, AlreadyRunning) as error:
        raise RunFailed(str(error)) from error


def plan_of(arguments: argparse.Namespace) -> Plan:
    """Return the monitor's plan for the arguments of ``log``."""
    from msgspec.structs import replace

    from stream.files import load_layout, load_roster, load_settings, settings_text
    from stream.monitor.plan import Plan

    options = connection_options(arguments)
    session: Path | None = arguments.session
    if not arguments.layout and not (session and (session / "session.json").exists()):
        raise BadInput("--layout is needed: a layout file, or the name of a shipped layout")
    if not (arguments.jsonl or arguments.record or session):
        raise BadInput("nothing would be kept: give --session, --jsonl or --record")
    if arguments.record and session:
        raise BadInput(
            f"--session keeps its own recording in {session}; leave out --record, and copy that "
            "one if you need it elsewhere"
        )
    for name in (arguments.jsonl, arguments.record):
        if name is not None and not Path(name).absolute().parent.is_dir():
            raise BadInput(f"{name}: there is no folder {Path(name).parent}")
    if arguments.record and Path(arguments.record).exists():
        raise BadInput(f"{arguments.record} is there already; a recording is never overwritten")
    roster = load_roster(arguments.pitchers) if arguments.pitchers else None
    settings = load_settings(arguments.settings) if arguments.settings else None
    # The broker's account and certificates serve both ways; ZeroMQ keys differ for each end.
    publish_options = replace(options, keys=_absolute(arguments.publish_keys))
    return Plan(
        feed=arguments.feed,
        layout=load_layout(arguments.layout).origin_text if arguments.layout else "",
        settings=settings_text(settings) if settings else "",
        roster=roster.coded().to_csv() if roster else "",
        pitcher=arguments.pitcher,
        options=options,
        pitches=arguments.pitches,
        jsonl=_absolute(arguments.jsonl),
        record=_absolute(arguments.record),
        session=_absolute(session),
        publish=arguments.publish,
        publish_options=publish_options,
        view=arguments.view,
        view_keys=_absolute(arguments.view_keys),
        open_to_network=arguments.open_to_network,
    )


def _teller(units: Units) -> Keeper:
    from stream.monitor.keepers import Teller
    from tui.commands.lines import Lines
    from tui.safe_text import plain
    from tui.said import in_units

    lines = Lines(units)
    # Without a terminal the files are the output; sentences on trouble go to stderr all the same.
    show = lines.of if sys.stdout.isatty() else lambda output: ()
    return Teller(show, _print, lambda text: _warn(in_units(plain(text, 1000), units)))


def _print(line: str) -> None:
    print(line, flush=True)


def _warn(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _absolute(path: str | Path | None) -> str | None:
    return None if path is None else str(Path(path).absolute())


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of pitches")
    return int(text)
