"""What ``moundfeed check`` reads: the layout, and a recording's force messages."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput

if TYPE_CHECKING:
    from stream.checks.plan import Plan
    from stream.checks.recorded import Received
    from stream.layout import Layout
    from stream.recording.reader import Recording


def layout_named(name: str, spot: tuple[float, float] | None) -> Layout:
    """Return the layout of a file or shipped name; raise BadInput, also if ``spot`` is beside."""
    from stream.files import FileError, load_layout

    try:
        layout = load_layout(name)
    except FileError as error:
        raise BadInput(str(error)) from None
    on_deck(layout, spot)
    return layout


def on_deck(layout: Layout, spot: tuple[float, float] | None) -> None:
    """Raise BadInput where ``spot`` (x, y) m is not on the deck."""
    from stream.checks.response import under

    if spot is not None and under(layout, spot) is None:
        raise BadInput(f"--at {spot[0]:g},{spot[1]:g} lies beside the deck of {layout.name!r}")


def opened(arguments: argparse.Namespace, plan: Plan) -> tuple[Recording, Layout, str]:
    """Return the recording, the layout to read it with, and the mound to check."""
    from stream.files import FileError, parse_layout
    from stream.recording.head import RecordingError
    from stream.recording.reader import read_recording

    try:
        recording = read_recording(Path(arguments.feed))
        own = recording.metadata.get("layout", {}).get("toml")
        if arguments.layout:
            layout = layout_named(arguments.layout, plan.spot)
        elif own:
            layout = parse_layout(own, f"the layout in {arguments.feed}")
            on_deck(layout, plan.spot)
        else:
            raise BadInput("the recording carries no layout: give one with --layout")
        return recording, layout, _only_source(recording, arguments.source)
    except (RecordingError, FileError) as error:
        raise BadInput(str(error)) from None


def _only_source(recording: Recording, wanted: str | None) -> str:
    """Return the mound to check; raise BadInput where that is not clear."""
    from stream.wire import TopicKind, WireError, parse_topic

    found: set[str] = set()
    for packet in recording.packets():
        try:
            source, kind = parse_topic(packet.topic)
        except WireError:
            continue
        if kind is TopicKind.FORCE:
            found.add(source)
    if wanted is None and len(found) == 1:
        return found.pop()
    if wanted is not None and wanted in found:
        return wanted
    if not found:
        raise BadInput(f"{recording.path.name} holds no feed")
    raise BadInput(f"the recording holds {', '.join(sorted(found))}: choose one with --source")


def received(recording: Recording, source: str, layout: Layout) -> Iterator[Received]:
    """Yield the mound's force messages (None: unreadable) with when they came, ns."""
    from stream.wire import TopicKind, WireError, decode_force, topic

    wanted = topic(source, TopicKind.FORCE)
    for packet in recording.packets():
        if packet.topic != wanted:
            continue
        try:
            message = decode_force(packet.payload)
        except WireError:
            yield None, packet.received_ns
            continue
        fit_channels(layout, message.samples.shape[1])
        yield message, packet.received_ns


def fit_channels(layout: Layout, channels: int) -> None:
    """Raise BadInput where the feed has another number of channels than the layout."""
    if channels != layout.channels:
        raise BadInput(
            f"the feed has {channels} channels, the layout {layout.name!r} has {layout.channels}: "
            "give the layout of this mound"
        )
