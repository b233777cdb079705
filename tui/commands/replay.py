"""``moundfeed replay``: a recording through the whole measurement again."""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.counted import counted
from tui.commands.connection import add_connection_arguments
from tui.commands.errors import BadInput
from tui.commands.recorded import (
    Recorded,
    check_held,
    other_than_recorded,
    recorded,
    size_of,
)
from tui.commands.recording_words import damage
from tui.commands.replay_results import Results
from tui.commands.screen import add_screen_arguments

if TYPE_CHECKING:
    from stream.recording.reader import Recording

#: Different faults that are told in words; the rest is counted.
MOST_FAULTS = 10


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "replay",
        help="run a recording through the whole measurement again",
        description="Measures a recording again, as fast as it goes. With what the recording "
        "carries (layout, roster, settings) the records are the same as they were live; what is "
        "given here is used instead. With --screen it is shown as it was live, at any speed, with "
        "pause, steps and jumps. With --to its messages are sent again as the device sent them.",
    )
    parser.add_argument(
        "recording",
        type=Path,
        metavar="FILE.mcap|DIR",
        help="a recording, or a session's folder with all of its recordings",
    )
    parser.add_argument(
        "--layout", metavar="FILE", help="layout file or shipped name (default: the recording's)"
    )
    parser.add_argument("--jsonl", type=Path, metavar="OUT", help="write one JSON object a pitch")
    parser.add_argument("--pitchers", type=Path, metavar="roster.csv", help="the roster")
    parser.add_argument("--pitcher", metavar="P03", help="who throws first")
    parser.add_argument("--settings", type=Path, metavar="FILE.toml", help="measurement settings")
    parser.add_argument(
        "--session",
        type=Path,
        metavar="DIR",
        help="keep everything in a new session folder: a copy of the recording and the records",
    )
    parser.add_argument("--screen", action="store_true", help="show it on the screen")
    parser.add_argument(
        "--to",
        metavar="URL",
        help="send its force and speed messages again: tcp://127.0.0.1:PORT listens for a "
        "monitor, mqtt://[user@]HOST:PORT goes to a broker",
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        metavar="X",
        help="for --screen and --to: X times real speed, or max (1)",
    )
    parser.add_argument(
        "--wait", type=float, default=60.0, metavar="S", help="for --to tcp://: longest wait (60)"
    )
    parser.add_argument(
        "--open-to-network", action="store_true", help="for --to tcp://: let other computers in"
    )
    add_connection_arguments(parser)
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Replay: on the screen, to whoever listens, or without either as fast as it goes."""
    _check_use(arguments)
    if arguments.to:
        from tui.commands.republish import republish

        return republish(arguments)
    opened = recorded(arguments)
    if arguments.screen:
        from tui.commands.replay_screen import show_replay

        return show_replay(arguments, opened)
    notes = list(other_than_recorded(arguments, opened))
    return _measure(Results(arguments, opened), opened, arguments.source, notes)


def _check_use(arguments: argparse.Namespace) -> None:
    if arguments.screen and arguments.to:
        raise BadInput("--screen shows and --to sends; give one of them")
    if (arguments.screen or arguments.to) and (arguments.jsonl or arguments.session):
        raise BadInput("--jsonl and --session are written by a replay without --screen and --to")
    if arguments.speed is not None and not (arguments.screen or arguments.to):
        raise BadInput("--speed is for --screen or --to; else a replay goes as fast as it can")


def _measure(results: Results, opened: list[Recorded], only: str | None, notes: list[str]) -> None:
    from stream.recording.replay import Mounds
    from tui.commands.progress import Progress

    minutes, before = 0.0, 0
    held: set[str] = set()
    with Progress("replay", size_of([item.recording for item in opened])) as progress:
        for recording, setup in opened:
            mounds = Mounds(setup, only)
            first_ns = last_ns = 0
            for batch in recording.batches():
                first_ns, last_ns = first_ns or batch[0].received_ns, batch[-1].received_ns
                results.take(batch, mounds.receive_many(batch))
                progress.at(before + recording.report.offset)
            results.take([], mounds.finish())
            held |= set(mounds.cores)
            before += recording.path.stat().st_size
            minutes += (last_ns - first_ns) / 60e9
    results.close()
    check_held(held, only, opened[0].recording)
    for sentence in (*notes, *_warnings([item.recording for item in opened], results.faults)):
        print(f"moundfeed: {sentence}", file=sys.stderr)
    print(
        f"{counted(results.pitches, 'pitch', 'pitches')} and "
        f"{counted(results.not_counted, 'movement')} not counted "
        f"in {minutes:.1f} minutes of recording."
    )


def _warnings(found: list[Recording], faults: Counter[str]) -> Iterator[str]:
    """Yield what a user must know of the recordings and their feed."""
    for recording in found:
        name = f"{recording.path.name}: " if len(found) > 1 else ""
        yield from (f"{name}{sentence}" for sentence in damage(recording))
    for say, times in faults.most_common(MOST_FAULTS):
        yield say if times == 1 else f"{say} ({times} times)"
    rest = sum(faults.values()) - sum(times for _, times in faults.most_common(MOST_FAULTS))
    if rest:
        yield f"{rest} more faults of the feed."


def _speed(text: str) -> float:
    try:
        speed = math.inf if text == "max" else float(text)
    except ValueError:
        speed = 0.0
    if not (text == "max" or 0.01 <= speed <= 1000.0):
        raise argparse.ArgumentTypeError(f"{text!r} is not a speed between 0.01 and 1000, or max")
    return speed
