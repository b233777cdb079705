"""The cores of the mounds that are heard, one for each; opened when a mound is first heard."""

from __future__ import annotations

from collections.abc import Callable, ItemsView, Mapping, Sequence
from typing import Any, Protocol

from stream.monitor import words
from stream.outputs import Output
from stream.snapshot import Sentence, Snapshot
from stream.wire import Packet, TopicKind, WireError, decode_force, topic

#: Mounds in one monitor; a stranger on the feed must not be able to fill the memory with more.
MOST_MOUNDS = 128


class Core(Protocol):
    """What the monitor needs of a mound's core (:class:`stream.pipeline.Pipeline`)."""

    def receive_many(self, packets: Sequence[Packet]) -> list[Output]:
        """Take packets in order."""

    def tick(self, now_ns: int) -> list[Output]:
        """Let time pass."""

    def finish(self) -> list[Output]:
        """Close what is open: the feed has ended."""

    def snapshot(self, now_ns: int) -> Snapshot:
        """Return the picture of now."""

    def health(self, now_ns: int) -> Mapping[str, Any]:
        """Return the health message's content."""


class Mounds:
    """Cores by the name of their mound.

    ``make`` makes the core of a mound that is heard for the first time, or
    says why it is not followed. ``happened`` takes what is worth saying once.
    """

    def __init__(
        self, make: Callable[[str], Core | Sentence], happened: Callable[[Sentence], None]
    ) -> None:
        self._make = make
        self._happened = happened
        self._cores: dict[str, Core] = {}
        self._left_out: dict[str, Sentence] = {}

    def items(self) -> ItemsView[str, Core]:
        """Return the mounds that are followed, by name."""
        return self._cores.items()

    def get(self, source: str) -> Core | None:
        """Return the core of a mound that has been heard, or None."""
        return self._cores.get(source)

    def open(self, source: str, first: Packet) -> Core | None:
        """Return the mound's core, made if ``first`` is its first message; None: left out."""
        core = self._cores.get(source)
        if core is not None or source in self._left_out:
            return core
        if (unreadable := _unreadable(source, first)) is not None:
            self._happened(unreadable)
            return None
        if len(self._cores) >= MOST_MOUNDS:
            refusal = words.too_many_mounds(MOST_MOUNDS)
            self._left_out[refusal.key] = refusal
            return None
        made = self._make(source)
        if isinstance(made, Sentence):
            if len(self._left_out) < MOST_MOUNDS:
                self._left_out[source] = made
            return None
        self._cores[source] = made
        return made

    def sentences(self) -> list[Sentence]:
        """Return why mounds are left out."""
        return list(self._left_out.values())

    def finish(self) -> list[Output]:
        """Finish every core and forget it."""
        outputs = [output for core in self._cores.values() for output in core.finish()]
        self._cores.clear()
        return outputs


def _unreadable(source: str, packet: Packet) -> Sentence | None:
    """A mound begins with a force message that can be read, so that noise never begins one."""
    if packet.topic != topic(source, TopicKind.FORCE):
        return words.not_yet(source)
    try:
        decode_force(packet.payload)
    except WireError as error:
        return words.unreadable(source, error)
    return None
