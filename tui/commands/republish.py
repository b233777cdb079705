"""``moundfeed replay --to``: a recording sent again, as its device sent it."""

from __future__ import annotations

import argparse
import asyncio
import math
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from stream.wire import NS, TopicKind, parse_topic
from tui.commands.connection import connection_options
from tui.commands.errors import RunFailed
from tui.commands.progress import Progress
from tui.commands.recorded import check_held, recordings, size_of

if TYPE_CHECKING:
    from stream.recording.reader import Recording

#: Between two recordings of a session, s; the time that passed there is not waited for.
_BETWEEN_S = 1.0


class Message(NamedTuple):
    """A message and when it is due, s from the first."""

    time: float
    topic: str
    payload: bytes


def republish(arguments: argparse.Namespace) -> None:
    """Send the force and speed messages, byte for byte as they were recorded."""
    from simulators.device import send
    from stream.access.address import parse_address
    from stream.access.broker import BrokerTrouble

    address = parse_address(arguments.to)
    options = connection_options(arguments)
    found = recordings(arguments.recording)
    pace = None if math.isinf(arguments.speed or 1.0) else arguments.speed or 1.0
    with Progress("sending", size_of(found)) as progress:
        feed = Feed(found, options.source, progress)
        try:
            how, opened = (pace, arguments.wait, _say), arguments.open_to_network
            asyncio.run(send(address, options, feed.messages, *how, open_to_network=opened))
        except BrokerTrouble as trouble:
            raise RunFailed(str(trouble)) from None
        except KeyboardInterrupt:
            raise RunFailed(f"stopped before the end; {feed.told()} were sent") from None
    _say(f"sent to the end: {feed.told()}")


class Feed:
    """The force and speed messages of recordings; counts what it has given.

    ``only`` names a mound; None takes all. Raise BadInput where there is nothing to send.
    """

    def __init__(self, found: list[Recording], only: str | None, progress: Progress) -> None:
        self._found = found
        self._only = only
        self._progress = progress
        self._sent, self._place_s = 0, 0.0
        first = next(self.messages(), None)
        check_held(set() if first is None else {first.topic.split("/")[1]}, only, found[0])
        self._sent = 0

    def messages(self) -> Iterator[Message]:
        """Yield them in order. A host clock that was set back counts as standing still."""
        begin_s, before = 0.0, 0
        for recording in self._found:
            first_ns: int | None = None
            place_ns = 0
            for batch in recording.batches():
                for packet in batch:
                    if not self._is_wanted(packet.topic):
                        continue
                    first_ns = packet.received_ns if first_ns is None else first_ns
                    place_ns = max(place_ns, packet.received_ns - first_ns)
                    self._sent += 1
                    self._place_s = begin_s + place_ns / NS
                    yield Message(self._place_s, packet.topic, bytes(packet.payload))
                self._progress.at(before + recording.report.offset)
            begin_s += place_ns / NS + _BETWEEN_S
            before += recording.path.stat().st_size

    def told(self) -> str:
        """Return in words what has been given."""
        return f"{self._sent} messages, {self._place_s:.0f} s of feed"

    def _is_wanted(self, topic: str) -> bool:
        source, kind = parse_topic(topic)
        return kind in (TopicKind.FORCE, TopicKind.SPEED) and self._only in (None, source)


def _say(text: str) -> None:
    begin = "\r" if sys.stderr.isatty() else ""
    print(f"{begin}moundfeed replay: {text}", file=sys.stderr, flush=True)
