"""What ``replay`` reads: one recording, or those of a session's folder in their order."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tui.commands.errors import BadInput

if TYPE_CHECKING:
    from stream.monitor.playback import Part
    from stream.recording.reader import Recording
    from stream.recording.replay import Setup


class Recorded(NamedTuple):
    """One recording and what it is measured with."""

    recording: Recording
    setup: Setup


def recorded(arguments: argparse.Namespace) -> list[Recorded]:
    """Open what ``arguments.recording`` names; raise the inputs' own errors."""
    from stream.files import load_layout, load_roster, load_settings
    from stream.recording.replay import setup_of

    found = recordings(arguments.recording)
    layout = load_layout(arguments.layout) if arguments.layout else None
    settings = load_settings(arguments.settings) if arguments.settings else None
    roster = load_roster(arguments.pitchers) if arguments.pitchers else None
    return [
        Recorded(
            recording,
            setup_of(
                recording,
                layout=layout,
                settings=settings,
                roster=roster,
                pitcher=arguments.pitcher,
            ),
        )
        for recording in found
    ]


def other_than_recorded(arguments: argparse.Namespace, opened: list[Recorded]) -> Iterator[str]:
    """Yield what a user should know of an input that is not the recording's own."""
    from stream.files import parse_layout

    for recording, setup in opened if arguments.layout else ():
        own = recording.metadata.get("layout", {}).get("toml", "")
        if own and own != setup.layout.origin_text:
            name = parse_layout(own, f"the layout in {recording.path.name}").name
            yield (
                f"{recording.path.name} was recorded with the layout {name!r} and measured here "
                f"with {setup.layout.name!r}, as asked. If nothing fits, leave --layout out."
            )
    if arguments.pitcher and all(p.code != arguments.pitcher for p in opened[0].setup.roster):
        yield (
            f"{arguments.pitcher} is not on the roster: throwing arm and height are not known, "
            "and what rests on them stays empty."
        )


def recordings(path: Path) -> list[Recording]:
    """Return the recording at ``path``, or those of the session's folder there."""
    from stream.recording.reader import read_recording
    from stream.recording.session import Session

    if not path.is_dir():
        return [read_recording(path)]
    found = [read_recording(file) for file in Session.open(path).recordings()]
    if not found:
        raise BadInput(f"{path} holds no recording yet")
    return found


def parts_of(opened: list[Recorded], only: str | None) -> list[Part]:
    """Return what a playback needs; reads all once, with progress, to know how long it is."""
    from stream.monitor.playback import Part
    from tui.commands.progress import Progress

    found: list[Part] = []
    topics: set[str] = set()
    before = 0
    with Progress("reading", size_of([r.recording for r in opened])) as progress:
        for recording, setup in opened:
            times: list[int] = []
            for batch in recording.batches():
                topics.update(packet.topic for packet in batch)
                received = [packet.received_ns for packet in batch]
                times = [times[0] if times else received[0], max([*times[1:], *received])]
                progress.at(before + recording.report.offset)
            before += recording.path.stat().st_size
            if times:
                found.append(Part(recording, setup, *times))
    check_held({topic.split("/")[1] for topic in topics}, only, opened[0].recording)
    return found


def check_held(held: set[str], only: str | None, first: Recording) -> None:
    """Raise BadInput where the mounds ``held`` leave nothing to play or measure."""
    if not held or (only is not None and only not in held):
        wanted = f" of {only!r}" if only else ""
        raise BadInput(f"{first.path.name} holds no feed{wanted}")


def size_of(found: list[Recording]) -> int:
    """Return the size of all files, bytes."""
    return sum(recording.path.stat().st_size for recording in found)
