"""What every live source has in common."""

from __future__ import annotations

from collections.abc import AsyncGenerator, Callable
from typing import Protocol

from stream.snapshot import Sentence
from stream.wire import Packet, TopicKind, WireError, parse_topic

#: Most packets in one batch, so that nothing else waits for long.
MOST_AT_ONCE = 256
#: Key of the sentences in which a source says how its connection is.
CONNECTION = "connection"

Tell = Callable[[Sentence], None]
_FEED = (TopicKind.FORCE, TopicKind.SPEED)


class Source(Protocol):
    """A live feed. It reconnects by itself and never ends because a peer did."""

    @property
    def address(self) -> str:
        """Where the feed comes from, fit to be shown."""

    @property
    def dropped(self) -> int:
        """Messages that came and had to be dropped because nobody took them in time."""

    @property
    def left_out(self) -> int:
        """Messages that came and are no force or speed message of a wanted mound."""

    def batches(self) -> AsyncGenerator[list[Packet], None]:
        """Yield what waits now, again and again; never an empty list.

        Others have their turn before each, however much comes.
        """


def belongs(topic: str, source: str | None) -> bool:
    """Whether ``topic`` is a mound's force or speed (of ``source`` only, if given).

    Nothing else is taken from a feed: above all no operator's action, which
    only the operator's own screen may send.
    """
    try:
        name, kind = parse_topic(topic)
    except WireError:
        return False
    return kind in _FEED and source in (None, name)
