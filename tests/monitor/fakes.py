"""A source, a core and pitches made by hand, to drive the monitor's shell (all invented)."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Callable, Sequence
from typing import Any

import numpy as np

from stream.monitor.mounds import Core
from stream.monitor.service import Equipment, Monitor
from stream.outputs import Output, Pitch, PitchClosed, PitchRecord, Traces
from stream.pipeline import Pipeline
from stream.snapshot import Sentence, Snapshot
from stream.sources.source import Tell
from stream.wire import Packet
from tests.transport.feeds import force


def packet(number: int, source: str = "mound-a") -> Packet:
    return Packet(f"moundfeed/{source}/force", force(number, source), 1_000 + number)


def record(number: int, source: str = "mound-a", note: str = "") -> PitchRecord:
    return PitchRecord(
        source, "s1", number, "P03", "R", 400.5 * number, {}, 880.0, {"drive_peak_bw": 166.2},
        note=note,
    )  # fmt: skip


def pitch(number: int, source: str = "mound-a") -> Pitch:
    n = 40
    ramp = np.arange(n, dtype=float)
    three, two = np.outer(ramp, [1.0, 2.0, 3.0]), np.outer(ramp, [0.5, 0.25])
    traces = Traces(number * 400, 200.0, ramp / 200.0, three, three + 1, two, two + 1)
    return Pitch(record(number, source), traces)


class HandFeed:
    """A source that yields what a test puts into it."""

    address = "hand://"
    dropped = 0
    left_out = 0

    def __init__(self) -> None:
        self.queue: asyncio.Queue[list[Packet] | Exception | None] = asyncio.Queue()
        self.tell: Tell = lambda sentence: None

    def __call__(self, tell: Tell) -> HandFeed:
        self.tell = tell
        return self

    async def batches(self) -> AsyncGenerator[list[Packet], None]:
        while (batch := await self.queue.get()) is not None:
            if isinstance(batch, Exception):
                raise batch
            yield batch


class HandCore:
    """A core whose outputs a test chooses; it remembers what it was given."""

    def __init__(self, source: str, layout: Any) -> None:
        self.given: list[Packet] = []
        self.answers: list[Output] = []
        self.always: list[Output] = []
        self.at_the_end: list[Output] = []
        self.breaks: Exception | None = None
        self.ticks = 0
        self._true = Pipeline(source, layout)

    def receive_many(self, packets: Sequence[Packet]) -> list[Output]:
        if self.breaks is not None:
            raise self.breaks
        self.given += packets
        out, self.answers = self.answers, []
        return out + self.always

    def tick(self, now_ns: int) -> list[Output]:
        self.ticks += 1
        return []

    def finish(self) -> list[Output]:
        out, self.at_the_end = self.at_the_end, []
        return out

    def snapshot(self, now_ns: int) -> Snapshot:
        return self._true.snapshot(now_ns)

    def health(self, now_ns: int) -> dict[str, object]:
        return {"pitches": len(self.given)}


class Watched:
    """Collects what the monitor tells its keepers."""

    def __init__(self, room: Any) -> None:
        self.room = room
        self.outputs: list[Output] = []
        self.sentences: list[Sentence] = []

    def take(self, outputs: Sequence[Output]) -> None:
        self.outputs += outputs

    def acted(self, action: object) -> None:
        pass

    def said(self, sentence: Sentence) -> None:
        self.sentences.append(sentence)

    @property
    def closed(self) -> list[int]:
        return [o.record.number for o in self.outputs if isinstance(o, PitchClosed)]


class Rig:
    """A monitor around a hand-fed source; ``async with`` it to have it run."""

    def __init__(
        self,
        make_core: Callable[[str], Core | Sentence],
        equipment: Equipment | None = None,
        **more: Any,
    ) -> None:
        self.feed = HandFeed()
        self._told = False
        self.equipment = equipment or Equipment(keepers=[], servers=[])
        self.monitor = Monitor(
            self.feed, lambda source, equipment: make_core(source), self.equipment, **more
        )

    async def __aenter__(self) -> Rig:
        self.task = asyncio.create_task(self.monitor.run())
        return self

    async def __aexit__(self, kind: object, *rest: object) -> None:
        self.monitor.stop()
        done, _ = await asyncio.wait({self.task}, timeout=20)
        assert done, "the monitor does not end"
        if kind is None and not self._told:
            self.task.result()

    async def outcome(self) -> None:
        """Wait until the monitor ends by itself, and raise what it raised."""
        done, _ = await asyncio.wait({self.task}, timeout=20)
        assert done, "the monitor goes on"
        self._told = True
        self.task.result()

    def send(self, *packets: Packet) -> None:
        self.feed.queue.put_nowait(list(packets))
