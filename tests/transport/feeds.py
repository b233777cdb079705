"""Force messages for tests of the transport (invented readings), and what takes them in."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from contextlib import aclosing

import numpy as np

from stream.access.options import ConnectionOptions
from stream.snapshot import Sentence
from stream.sources import open_source
from stream.wire import ForceMessage, Packet, decode_force, encode_force

BLOCK = 10


def force(number: int, source: str = "mound-a", channels: int = 12) -> bytes:
    """Return the ``number``-th block of a device's feed."""
    samples = np.full((BLOCK, channels), float(number % 100), dtype=np.float32)
    first = number * BLOCK
    return encode_force(ForceMessage(source, "s1", first, first * 5_000_000, 200.0, samples))


def frames(packets: Sequence[Packet]) -> list[int]:
    """Return the first frame of each force packet."""
    return [decode_force(p.payload).first_frame for p in packets if p.topic.endswith("/force")]


class Listener:
    """Takes everything from a source in a task of its own."""

    def __init__(self, url: str, options: ConnectionOptions | None = None) -> None:
        self.packets: list[Packet] = []
        self.batches: list[list[Packet]] = []
        self.said: list[Sentence] = []
        self.source = open_source(url, options or ConnectionOptions(), self.said.append)

    async def __aenter__(self) -> Listener:
        self._task = asyncio.create_task(self._listen())
        return self

    async def __aexit__(self, *error: object) -> None:
        self._task.cancel()
        done, _ = await asyncio.wait({self._task}, timeout=10)
        assert done, "the source does not let itself be stopped"

    async def _listen(self) -> None:
        async with aclosing(self.source.batches()) as batches:
            async for batch in batches:
                assert batch
                self.packets += batch
                self.batches.append(batch)

    def heard(self, words: str) -> bool:
        """Whether a sentence with ``words`` has been said."""
        assert not self._task.done(), "the source ended, which it must never do"
        return any(words in sentence.text for sentence in self.said)
