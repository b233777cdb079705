"""``moundfeed simulate``: an invented mound session, to a monitor, a broker or a recording."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Coroutine, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.counted import counted
from tui.commands.errors import BadInput, RunFailed

if TYPE_CHECKING:
    from simulators.faulty_link import Fault
    from simulators.feed import Device, Sent
    from simulators.timeline import Scenario
    from stream.access.options import ConnectionOptions
    from stream.layout import Layout

_STYLES = ("windup", "stretch", "slide_step")
_SCENES = ("session", "empty", "mass", "standing", "check")
_LIVE_AHEAD_FRAMES = 200
_YEARS = (2000, 2200)  # a clock that shows less tells no time of day; more does not fit in ns


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "simulate",
        help="play a simulated mound: to a monitor, a broker or a recording",
        description="Plays an invented bullpen session on a simulated mound: pitchers who throw, "
        "and what else happens on a mound. Everything is made up from a seed, so the same seed "
        "gives the same session. Use it to try the program, to practise, and to check it.",
    )
    parser.add_argument(
        "--to",
        required=True,
        metavar="WHERE",
        help="tcp://127.0.0.1:PORT (a monitor connects there), mqtt://[USER@]HOST:PORT "
        "(a broker), or a new recording FILE.mcap",
    )
    parser.add_argument(
        "--layout", default="two-plates", help="layout file, or a shipped layout (two-plates)"
    )
    parser.add_argument("--pitches", type=_count, default=12, metavar="N", help="in all (12)")
    parser.add_argument("--seed", type=_count, default=1, metavar="S", help="which session (1)")
    parser.add_argument(
        "--speed",
        type=_speed,
        default=1.0,
        metavar="X",
        help="X times as fast as real, or max (recordings are always written at once)",
    )
    parser.add_argument(
        "--truth", type=Path, metavar="FILE.jsonl", help="also write what truly happened"
    )
    _session_arguments(parser)
    _device_arguments(parser)
    _link_arguments(parser)
    parser.set_defaults(run=run)


def _session_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("the session").add_argument
    add(
        "--begin",
        type=_moment,
        metavar="TIME",
        help="a recording begins at 2026-05-04T17:00 (UTC, or with +02:00), not on the day of all "
        "others; the same seed on another day gives other pitches of the same pitchers",
    )
    add("--pitchers", type=_positive, default=3, metavar="N", help="how many pitchers (3)")
    add("--style", action="append", choices=_STYLES, help="only this delivery; may be repeated")
    add(
        "--sizes",
        choices=("college", "wide"),
        default="college",
        help="college pitchers, or anybody from 45 to 130 kg",
    )
    add("--no-traffic", action="store_true", help="nothing but pitches and walking")
    add(
        "--traffic-minutes",
        type=_amount,
        default=0.0,
        metavar="M",
        help="at the end, so many minutes of everything but pitches (0)",
    )
    add("--quick", action="store_true", help="short pauses between pitches")
    add(
        "--speeds-missing",
        type=_share,
        default=0.03,
        metavar="SHARE",
        help="share of ball speeds that never come (0.03)",
    )
    add(
        "--scene",
        choices=_SCENES,
        default="session",
        help="instead, for the set-up check: an empty deck, a known mass put on it, somebody "
        "standing, or all three in turn (check)",
    )
    add("--seconds", type=_amount, default=20.0, metavar="S", help="length of each load (20)")
    add("--empty", type=_amount, default=10.0, metavar="S",
        help="the empty deck before the mass of a scene (10)")  # fmt: skip
    add("--mass-kg", type=_amount, default=20.0, metavar="KG", help="the known mass (20)")
    add("--at", type=_place, default=(0.0, 0.0), metavar="X,Y", help="where it stands, m (0,0)")


def _device_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("the device").add_argument
    add("--source", default="mound-a", metavar="NAME", help="name of the mound (mound-a)")
    add("--block", type=_block, default=4, metavar="N", help="frames in one message (4)")
    add("--ppm", type=float, default=20.0, metavar="P", help="error of its clock's pace (20)")
    add("--ahead", type=float, default=0.35, metavar="S", help="its clock is ahead by so much")
    add("--noise", type=_amount, default=1.0, metavar="N", help="noise of a channel, N (1)")
    add("--offset", type=_amount, default=20.0, metavar="N", help="size of zero offsets, N (20)")
    add("--hum", type=_amount, default=0.0, metavar="N", help="mains hum, N (0)")
    add("--hum-hz", type=_amount, default=60.0, metavar="HZ", help="mains frequency (60)")
    add("--drift", type=_amount, default=0.0, metavar="N", help="drift, N a minute (0)")
    add("--gain-error", type=_amount, default=0.0, metavar="G", help="0.01 is 1 %% (0)")
    add(
        "--fault",
        action="append",
        default=[],
        metavar="NAME[:VALUE][@S]",
        help="a fault from second S on; may be repeated. '--fault list' tells them all",
    )


def _link_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("connection").add_argument
    add("--wait", type=_amount, default=60.0, metavar="S", help="longest wait for a monitor (60)")
    add("--qos", type=int, choices=(0, 1, 2), default=1, help="MQTT quality of service (1)")
    add("--ca-file", type=Path, metavar="FILE", help="certificates to trust for mqtts://")
    add(
        "--password-file",
        type=Path,
        metavar="FILE",
        help="file, readable by you alone, with the broker's password "
        "(or set MOUNDFEED_MQTT_PASSWORD)",
    )
    add("--keys", type=Path, metavar="DIR", help="the server folder of 'moundfeed keys' (tcp://)")
    add("--open-to-network", action="store_true", help="let other computers connect (tcp://)")
    # For a program that starts the device and takes it along when it ends.
    add("--owner", type=int, metavar="PID", help=argparse.SUPPRESS)


def run(options: argparse.Namespace) -> int:
    """Run the command; return its exit code."""
    from simulators.faults import FAULTS, FaultError, check_faults, parse_fault, wrong_device
    from simulators.feed import Device
    from stream.files import FileError, load_layout
    from stream.wire import WireError, check_source

    if "list" in options.fault:
        for name, kind in FAULTS.items():
            print(f"{name}:{kind.default:g}  {kind.say}")
        return 0
    try:
        layout = load_layout(options.layout)
        faults = [parse_fault(text) for text in options.fault]
        check_faults(faults, layout)
        check_source(options.source)
    except (FileError, FaultError, WireError) as error:
        raise BadInput(str(error)) from None
    if "://" not in options.to:
        if Path(options.to).suffix != ".mcap":
            raise BadInput(
                f"--to {options.to!r} is neither tcp://127.0.0.1:PORT nor mqtt://[USER@]HOST:PORT, "
                "nor a recording's name that ends in .mcap"
            )
        if Path(options.to).exists():
            raise BadInput(f"{options.to} is there already; a recording is never overwritten")
    elif options.begin is not None:
        raise BadInput("--begin is for a recording; what is sent begins now")
    scenario = _scenario(options, layout)
    device = Device(
        source=options.source,
        stream=_stream(options),
        block=options.block,
        ppm=options.ppm,
        ahead_s=options.ahead,
    )
    device = wrong_device(device, faults)
    if options.truth:
        _write_truth(options.truth, scenario, device, faults)
    if "://" in options.to:
        _send(options, scenario, layout, device, faults)
    else:
        _record(options, scenario, layout, device, faults)
    return 0


def _stream(options: argparse.Namespace) -> str:
    """Each start of a device has a name of its own; the same recording can be made twice."""
    if "://" in options.to:
        return f"sim-{options.seed}-{datetime.now(UTC):%Y%m%dT%H%M%S.%f}"
    if options.begin is None:
        return f"sim-{options.seed}"
    return f"sim-{options.seed}-{options.begin:%Y%m%dT%H%M%S}"


def _scenario(options: argparse.Namespace, layout: Layout) -> Scenario:
    from simulators import scenes
    from simulators.profile import Style
    from simulators.scenario import Plan, compose

    match options.scene:
        case "empty":
            return scenes.empty(options.seed, options.seconds)
        case "mass":
            whole, (x, y) = options.empty + options.seconds, options.at
            return scenes.mass(options.seed, whole, options.mass_kg, x, y, at_s=options.empty)
        case "check":
            mass, at = options.mass_kg, options.at
            empty, load = options.empty, options.seconds
            return scenes.check(options.seed, empty, load, mass, at, layout.deck)
        case "standing":
            return scenes.standing(options.seed, options.seconds, layout.deck)
        case _:
            plan = Plan(
                seed=options.seed,
                pitches=options.pitches,
                pitchers=options.pitchers,
                styles=tuple(Style(name) for name in options.style or _STYLES),
                traffic=0.0 if options.no_traffic else 0.5,
                traffic_s=60.0 * options.traffic_minutes,
                wide=options.sizes == "wide",
                quick=options.quick,
                speeds_missing=options.speeds_missing,
                day=None if options.begin is None else int(options.begin.timestamp()),
            )
            return compose(plan, layout.deck)


def _sent(
    options: argparse.Namespace,
    scenario: Scenario,
    layout: Layout,
    device: Device,
    faults: Sequence[Fault],
    epoch_ns: int,
    ahead_frames: int,
) -> Iterator[Sent]:
    from simulators.faults import spoiler, wrong_bytes, wrong_messages
    from simulators.feed import messages, packed
    from simulators.sensor import Imperfections

    how = Imperfections(
        offset_n=options.offset,
        noise_n=options.noise,
        hum_n=options.hum,
        hum_hz=options.hum_hz,
        drift_n_per_min=options.drift,
        gain=options.gain_error,
    )
    spoil = spoiler(layout, faults)
    timed = messages(scenario, layout, device, how, epoch_ns, ahead_frames, spoil)
    timed = wrong_messages(timed, faults, options.seed)
    return wrong_bytes((packed(item, epoch_ns) for item in timed), faults, options.seed)


def _record(
    options: argparse.Namespace,
    scenario: Scenario,
    layout: Layout,
    device: Device,
    faults: Sequence[Fault],
) -> None:
    from simulators.feed import EPOCH_NS
    from simulators.recorded import record

    begin = options.begin
    epoch_ns = EPOCH_NS if begin is None else int(begin.timestamp()) * 1_000_000_000
    sent = _sent(options, scenario, layout, device, faults, epoch_ns, 2000)
    count = record(Path(options.to), sent, scenario, layout)
    _say(
        f"{options.to}: {counted(len(scenario.pitches), 'pitch', 'pitches')} "
        f"in {scenario.duration:.0f} s, "
        f"{count} messages; all of it invented"
    )


def _send(
    options: argparse.Namespace,
    scenario: Scenario,
    layout: Layout,
    device: Device,
    faults: Sequence[Fault],
) -> None:
    import asyncio
    import time

    from simulators.device import send
    from stream.access.address import AddressError, parse_address
    from stream.access.broker import BrokerTrouble
    from stream.access.secrets import SecretError
    from stream.wire import TopicKind

    def begin() -> Iterator[Sent]:
        ahead = 2000 if options.speed is None else _LIVE_AHEAD_FRAMES
        sent = _sent(options, scenario, layout, device, faults, time.time_ns(), ahead)
        # A device has no operator: who throws is told on the monitor's own screen.
        return (item for item in sent if not item.topic.endswith(TopicKind.OPERATOR))

    connection = _connection(options)
    try:
        address, opened = parse_address(options.to), options.open_to_network
        how = options.speed, options.wait, _say
        work = send(address, connection, begin, *how, open_to_network=opened)
        asyncio.run(_owned(work, options.owner))
    except (AddressError, SecretError) as error:
        raise BadInput(str(error)) from None
    except BrokerTrouble as trouble:
        raise RunFailed(str(trouble)) from None
    _say(f"done: {len(scenario.pitches)} pitches; all of it invented")


async def _owned(work: Coroutine[Any, Any, None], owner: int | None) -> None:
    """Do ``work``; end it when the process ``owner`` is gone."""
    import asyncio

    from stream.monitor.owner import end_with

    task = asyncio.ensure_future(work)
    watching = asyncio.ensure_future(end_with(owner, task.cancel)) if owner else None
    try:
        await task
    finally:
        if watching is not None:
            watching.cancel()


def _connection(options: argparse.Namespace) -> ConnectionOptions:
    from stream.access.options import ConnectionOptions

    def text(path: Path | None) -> str | None:
        return None if path is None else str(path)

    return ConnectionOptions(
        qos=options.qos,
        ca_file=text(options.ca_file),
        password_file=text(options.password_file),
        keys=text(options.keys),
    )


def _write_truth(path: Path, scenario: Scenario, device: Device, faults: Sequence[Fault]) -> None:
    from simulators.faults import place_in_streams
    from simulators.ledger import truth_lines

    with path.open("w", encoding="utf-8") as out:
        for line in truth_lines(scenario, device, place_in_streams(device, faults)):
            out.write(json.dumps(line, allow_nan=False) + "\n")


def _say(text: str) -> None:
    print(f"moundfeed simulate: {text}", file=sys.stderr, flush=True)


def _count(text: str) -> int:
    value = int(text)
    if value < 0:
        raise argparse.ArgumentTypeError("must not be negative")
    return value


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no time such as 2026-05-04T17:00") from None
    if not _YEARS[0] <= moment.year < _YEARS[1]:
        raise argparse.ArgumentTypeError(f"must lie between {_YEARS[0]} and {_YEARS[1]}")
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _positive(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError("must be 1 or more")
    return value


def _block(text: str) -> int:
    value = int(text)
    if not 1 <= value <= 2000:
        raise argparse.ArgumentTypeError("must be between 1 and 2000")
    return value


def _amount(text: str) -> float:
    value = float(text)
    if not 0.0 <= value < 1e9:
        raise argparse.ArgumentTypeError("must be a number, 0 or more")
    return value


def _share(text: str) -> float:
    value = float(text)
    if not 0.0 <= value <= 1.0:
        raise argparse.ArgumentTypeError("must be between 0 and 1")
    return value


def _speed(text: str) -> float | None:
    if text == "max":
        return None
    value = float(text)
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError("must be more than 0, or max")
    return value


def _place(text: str) -> tuple[float, float]:
    x, y = text.split(",")
    return float(x), float(y)
