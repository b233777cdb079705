"""``moundfeed simulate``: an invented mound session, to a monitor, a broker or a recording."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput

if TYPE_CHECKING:
    from simulators.feed import Device
    from simulators.sensor import Imperfections
    from simulators.timeline import Scenario
    from stream.layout import Layout

_STYLES = ("windup", "stretch", "slide_step")


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add this command to the command line."""
    parser = subparsers.add_parser(
        "simulate",
        help="play a simulated mound: to a monitor, a broker or a recording",
        description="Plays an invented bullpen session on a simulated mound: pitchers who throw, "
        "and what else happens on a mound. Everything is made up from a seed, so the same seed "
        "gives the same session. Use it to try the program, to practise, and to check it.",
    )
    add = parser.add_argument
    add("--to", required=True, metavar="WHERE", help="tcp://127.0.0.1:PORT (a monitor connects "
        "there), mqtt://[USER@]HOST:PORT (a broker), or a new recording FILE.mcap")  # fmt: skip
    add("--layout", default="two-plates", help="the mound: a layout file or the name of a shipped "
        "one (default: two-plates)")  # fmt: skip
    add("--pitches", type=_count, default=12, metavar="N", help="pitches in all (default: 12)")
    add("--seed", type=int, default=1, metavar="S", help="which invented session (default: 1)")
    add("--truth", type=Path, metavar="FILE.jsonl", help="also write what truly happened")
    session = parser.add_argument_group("the session")
    add = session.add_argument
    add("--pitchers", type=_count, default=3, metavar="N", help="how many pitchers (default: 3)")
    add("--style", action="append", choices=_STYLES, help="only this delivery; may be repeated")
    add("--sizes", choices=("college", "wide"), default="college",
        help="college pitchers, or anybody from 45 to 130 kg")  # fmt: skip
    add("--no-traffic", action="store_true", help="nothing but pitches and walking")
    add("--quick", action="store_true", help="short pauses between pitches")
    device = parser.add_argument_group("the device")
    add = device.add_argument
    add("--source", default="mound-a", metavar="NAME", help="name of the mound")
    add("--block", type=_count, default=4, metavar="N", help="frames in one message (default: 4)")
    add("--ppm", type=float, default=20.0, help="how wrong its clock runs (default: 20)")
    add("--noise", type=float, default=1.0, metavar="N", help="noise of each channel, N SD "
        "(default: 1)")  # fmt: skip
    add("--offset", type=float, default=20.0, metavar="N", help="zero offsets, N SD (default: 20)")
    add("--hum", type=float, default=0.0, metavar="N", help="mains hum, N amplitude (default: 0)")
    add("--hum-hz", type=float, default=60.0, metavar="HZ", help="mains, 50 or 60 (default: 60)")
    add("--drift", type=float, default=0.0, metavar="N", help="drift, N per minute SD (default: 0)")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Run the command; return its exit code."""
    from simulators.feed import Device
    from simulators.scenario import Plan, compose
    from simulators.sensor import Imperfections
    from stream.files import FileError, load_layout
    from stream.wire import WireError, check_source

    try:
        layout = load_layout(options.layout)
        check_source(options.source)
    except (FileError, WireError) as error:
        raise BadInput(str(error)) from None
    plan = Plan(
        seed=options.seed,
        pitches=options.pitches,
        pitchers=options.pitchers,
        styles=_styles(options.style),
        traffic=0.0 if options.no_traffic else 0.5,
        wide=options.sizes == "wide",
        quick=options.quick,
    )
    scenario = compose(plan, layout.deck)
    device = Device(
        source=options.source, stream=f"sim-{options.seed}", block=options.block, ppm=options.ppm
    )
    how = Imperfections(options.offset, options.noise, options.hum, options.hum_hz, options.drift)
    if options.truth:
        _write_truth(options.truth, scenario, device)
    return _play(options.to, scenario, layout, device, how)


def _play(to: str, scenario: Scenario, layout: Layout, device: Device, how: Imperfections) -> int:
    from simulators.feed import messages, packed
    from simulators.recorded import record

    if "://" in to:
        raise BadInput("not yet")
    if Path(to).exists():
        raise BadInput(f"{to} exists already; a recording is never overwritten")
    sent = (packed(timed) for timed in messages(scenario, layout, device, how))
    count = record(Path(to), sent, scenario, layout)
    print(f"{to}: {len(scenario.pitches)} pitches, {scenario.duration:.0f} s, {count} messages. "
          "Invented data.", file=sys.stderr)  # fmt: skip
    return 0


def _write_truth(path: Path, scenario: Scenario, device: Device) -> None:
    from simulators.ledger import truth_lines

    with path.open("w", encoding="utf-8") as out:
        for line in truth_lines(scenario, device):
            out.write(json.dumps(line) + "\n")


def _styles(names: list[str] | None):  # type: ignore[no-untyped-def]
    from simulators.profile import Style

    return tuple(Style(n) for n in names or _STYLES)


def _count(text: str) -> int:
    value = int(text)
    if value < 0:
        raise argparse.ArgumentTypeError("must not be negative")
    return value
