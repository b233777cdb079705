"""``moundfeed check``: is this mound ready to measure?"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.check_recording import layout_named, opened, received
from tui.commands.check_session import Keeping
from tui.commands.connection import add_connection_arguments, connection_options
from tui.commands.errors import BadInput, RunFailed
from tui.commands.first_steps import CHECK
from tui.commands.screen import add_screen_arguments, units_of
from tui.commands.wrapped import say

if TYPE_CHECKING:
    from stream.checks.plan import Plan
    from stream.checks.verdict import Report, Result
    from stream.layout import Layout
    from stream.snapshot import CheckFound


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "check",
        help="the set-up check: is this mound ready to measure?",
        description="Checks the feed, the empty deck and, with a known mass, signs, weight and "
        "position. Live, on a terminal, a screen guides step by step; with --json or --plain the "
        "steps are said line by line. In a recording the empty and the loaded stretch are found by "
        "themselves. Exit code 0 only if nothing failed.",
        epilog="Lift masses safely, with help. Follow the maker's and local electrical codes; "
        "keep mains away from wet ground.",
    )
    add = parser.add_argument
    add("--from", dest="feed", metavar="WHERE",
        help="tcp://HOST:PORT, mqtt://[USER@]HOST:PORT or FILE.mcap")  # fmt: skip
    add("--layout", metavar="FILE",
        help="layout file or shipped name (a recording and a session have their own)")  # fmt: skip
    add("--plain", action="store_true", help="live: line by line instead of on the screen")
    add("--json", type=Path, metavar="OUT", help="write the results as JSON")
    add("--seconds", type=_positive, default=5.0, metavar="S",
        help="live: how long each load is looked at (default: 5)")  # fmt: skip
    add("--mass-kg", type=_positive, metavar="KG",
        help="the known mass (a screen asks for it; without one it is left out)")  # fmt: skip
    add("--at", type=_spot, metavar="X,Y",
        help="where it stands: metres towards home and to the pitcher's left, from the middle of "
        "the rubber's front edge (write --at=-0.2,0.3 for a negative x)")  # fmt: skip
    add("--stand", action="store_true", help="live: weigh a person too")
    gravity = parser.add_mutually_exclusive_group()
    gravity.add_argument("--gravity", type=_gravity, metavar="G", help="local gravity, m/s2 "
                         "(default: 9.80665)")  # fmt: skip
    gravity.add_argument("--latitude", type=_latitude, metavar="DEG",
                         help="work out local gravity from the latitude")  # fmt: skip
    add("--wait", type=_positive, default=60.0, metavar="S",
        help="live: longest wait for each step (default: 60)")  # fmt: skip
    add("--by", default="", metavar="NAME", help="who makes the check (kept with the zero)")
    add("--session", type=Path, metavar="DIR",
        help="keep result and zero in this session's folder; a new one is begun")  # fmt: skip
    add("--settings", type=Path, metavar="FILE.toml", help="settings of a session begun here")
    yearly = parser.add_argument_group("the yearly check, on a recording of it")
    yearly.add_argument("--grid", type=Path, metavar="PLACES.csv",
                        help="known masses on marked spots in the order recorded, the deck empty "
                        "in between: columns mass_kg, x_m, y_m")  # fmt: skip
    yearly.add_argument("--plot", type=Path, metavar="OUT.svg", help="draw the errors too")
    add_connection_arguments(parser)
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Make the check; return the exit code."""
    from stream.checks.verdict import body_weight_words, encode_report
    from tui.said import in_units

    if not arguments.feed:
        raise BadInput(CHECK)
    if arguments.json is not None and not arguments.json.absolute().parent.is_dir():
        raise BadInput(f"{arguments.json}: there is no folder {arguments.json.parent}")
    plan = _plan(arguments)
    if arguments.grid is not None:
        return _grid(arguments, plan)
    live = "://" in arguments.feed
    keeping = None if arguments.session is None else Keeping(arguments.session, arguments.settings)
    if live and _has_screen(arguments):
        return _on_screen(arguments, plan, keeping)
    if keeping is not None:
        keeping.refuse_if_running()
    report, layout = (_live if live else _recorded)(arguments, plan, keeping)
    if arguments.json is not None:
        arguments.json.write_bytes(encode_report(report))
    if keeping is not None:
        keeping.keep(report, layout)
    _print(report.checks, arguments)
    if report.body_weight_n is not None:
        weight = in_units(body_weight_words(report.body_weight_n), units_of(arguments))
        say(f"      {weight}", 6)
    return 0 if report.ok else 1


def _has_screen(arguments: argparse.Namespace) -> bool:
    """Whether the check is to be made on the screen: somebody sits there and wants no file."""
    wanted = arguments.json is None and not arguments.plain
    return wanted and sys.stdin.isatty() and sys.stdout.isatty()


def _on_screen(arguments: argparse.Namespace, plan: Plan, keeping: Keeping | None) -> int:
    from dataclasses import replace

    from stream.files import load_settings
    from tui.commands.check_screen import check_on_screen

    layout = _live_layout(arguments, plan, keeping)
    settings = load_settings(arguments.settings) if arguments.settings else None
    made = check_on_screen(arguments, replace(plan, stand=True), layout, settings)
    if made is None:
        raise RunFailed("the set-up check was left before it was done; nothing of it was kept")
    _print(made.found, arguments)
    return 0 if made.ok else 1


def _plan(arguments: argparse.Namespace) -> Plan:
    from stream.checks.gravity import local_gravity
    from stream.checks.plan import Plan
    from stream.movement import STANDARD_GRAVITY

    gravity = arguments.gravity or STANDARD_GRAVITY
    if arguments.latitude is not None:
        gravity = local_gravity(arguments.latitude)
    return Plan(
        seconds=arguments.seconds,
        mass_kg=arguments.mass_kg,
        spot=arguments.at,
        stand=arguments.stand,
        gravity=gravity,
        by=arguments.by,
    )


def _live_layout(arguments: argparse.Namespace, plan: Plan, keeping: Keeping | None) -> Layout:
    kept = keeping.layout_file if keeping is not None else None
    name = arguments.layout or kept
    if not name:
        raise BadInput("--layout is needed: a layout file, or the name of a shipped layout")
    layout = layout_named(str(name), plan.spot)
    if keeping is not None:
        keeping.agrees(layout)
    return layout


def _live(
    arguments: argparse.Namespace, plan: Plan, keeping: Keeping | None
) -> tuple[Report, Layout]:
    import asyncio

    from stream.access.address import AddressError
    from stream.access.options import OptionsError
    from tui.commands.live_check import LiveCheck

    layout = _live_layout(arguments, plan, keeping)
    try:
        units = units_of(arguments)
        check = LiveCheck(arguments.feed, connection_options(arguments), layout, plan, units)
        return asyncio.run(check.run(arguments.wait)), layout
    except (AddressError, OptionsError) as error:
        raise BadInput(str(error)) from None


def _recorded(
    arguments: argparse.Namespace, plan: Plan, keeping: Keeping | None
) -> tuple[Report, Layout]:
    from stream.checks.recorded import check_recorded

    recording, layout, source = opened(arguments, plan)
    if keeping is not None:
        keeping.agrees(layout)
    report = check_recorded(layout, plan, source, lambda: received(recording, source, layout))
    return report, layout


def _grid(arguments: argparse.Namespace, plan: Plan) -> int:
    from tui.commands.grid_check import run_grid

    if "://" in arguments.feed:
        raise BadInput("--grid needs a recording: make one with 'moundfeed log --record'")
    recording, layout, source = opened(arguments, plan)
    return run_grid(
        layout,
        arguments.grid,
        lambda: (m for m, _ in received(recording, source, layout) if m is not None),
        plan.gravity,
        json_path=arguments.json,
        plot_path=arguments.plot,
    )


_SHOWN = {"pass": "pass", "warn": "WARN", "fail": "FAIL", "not_run": "-"}


def _print(found: Sequence[Result | CheckFound], arguments: argparse.Namespace) -> None:
    from tui.safe_text import plain
    from tui.said import in_units

    units = units_of(arguments)
    for r in found:
        text = in_units(plain(r.say, 1000), units)
        say(f"{_SHOWN[str(r.status)]:5} {r.check:11} {text}", 18)
    run = sum(r.status != "not_run" for r in found)
    failed = [r.check for r in found if r.status == "fail"]
    if failed:
        say(f"The set-up check failed: {', '.join(failed)}.", file=sys.stderr)
    elif any(r.check == "zero" and r.status == "not_run" for r in found):
        print("The set-up check was not finished: no zero was taken.", file=sys.stderr)
    else:
        print(f"Nothing failed; {run} of {len(found)} checks were run.", file=sys.stderr)


def _positive(text: str) -> float:
    value = float(text)
    if not 0.0 < value < 1e4:
        raise argparse.ArgumentTypeError("must be above 0 and below 10,000")
    return value


def _gravity(text: str) -> float:
    value = float(text)
    if not 9.7 < value < 9.9:
        raise argparse.ArgumentTypeError("gravity on earth is between 9.76 and 9.84 m/s2")
    return value


def _latitude(text: str) -> float:
    value = float(text)
    if not -90.0 <= value <= 90.0:
        raise argparse.ArgumentTypeError("a latitude is between -90 and 90 degrees")
    return value


def _spot(text: str) -> tuple[float, float]:
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError("two numbers with a comma, as in 1.8,0.3") from None
    return x, y
