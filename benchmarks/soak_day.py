"""Hours of an invented feed through a real monitor's recorder, session folder and core, sped up."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator, Iterator
from pathlib import Path

import msgspec
import numpy as np

from simulators.feed import Device, messages
from simulators.scenario import Plan, compose
from stream.files import load_layout
from stream.layout import Layout
from stream.monitor.keepers import SessionKeeper
from stream.monitor.mounds import Core
from stream.monitor.service import Equipment, Monitor
from stream.pipeline import Pipeline
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.recording.writer import RecordingWriter
from stream.snapshot import Sentence
from stream.sources.source import Tell
from stream.wire import (
    ForceMessage,
    Packet,
    SpeedMessage,
    TopicKind,
    encode_force,
    encode_speed,
    topic,
)

SOURCE = "mound-a"
NS = 1_000_000_000
_EPOCH = 1_700_000_000 * NS
_AT_ONCE = 64
#: The recorder is let catch up before so many messages wait, s of its own measure.
_BEHIND_S = 1.0
_LOOKS_PER_HOUR = 10


class Feed:
    """One invented session again and again, with frame numbers and clock that go on."""

    def __init__(self, layout: Layout, hours: float) -> None:
        scenario = compose(Plan(seed=7, pitches=24, pitchers=2), layout.deck)
        timed = list(messages(scenario, layout, Device(source=SOURCE, block=10), None, _EPOCH))
        self._round = [item.content for item in timed]
        blocks = [c for c in self._round if isinstance(c, ForceMessage)]
        self._frames = sum(len(block.samples) for block in blocks)
        self._round_ns = round(self._frames / blocks[0].rate_hz * NS)
        self.rounds = max(1, round(hours * 3600 * NS / self._round_ns))
        self.hours = self.rounds * self._round_ns / NS / 3600
        self.pitches = len(scenario.pitches) * self.rounds
        self.now_ns = _EPOCH

    def __iter__(self) -> Iterator[Packet]:
        for turn in range(self.rounds):
            frames, later = turn * self._frames, turn * self._round_ns
            for content in self._round:
                match content:
                    case ForceMessage():
                        moved = msgspec.structs.replace(
                            content,
                            first_frame=content.first_frame + frames,
                            t_ns=content.t_ns + later,
                            stream="day",
                        )
                        self.now_ns = moved.t_ns + 5_000_000
                        yield Packet(_FORCE, encode_force(moved), self.now_ns)
                    case SpeedMessage():
                        speed = msgspec.structs.replace(content, t_ns=content.t_ns + later)
                        yield Packet(_SPEED, encode_speed(speed), self.now_ns)
                    case _:
                        pass


_FORCE, _SPEED = topic(SOURCE, TopicKind.FORCE), topic(SOURCE, TopicKind.SPEED)


class _Source:
    """The feed as the monitor takes it, waiting only for the recorder."""

    address = "a day of feed"
    dropped = left_out = 0

    def __init__(self, feed: Feed, recording: RecordingWriter, done: asyncio.Event) -> None:
        self._feed, self._recording, self._done = feed, recording, done

    async def batches(self) -> AsyncGenerator[list[Packet], None]:
        batch: list[Packet] = []
        for packet in self._feed:
            batch.append(packet)
            if len(batch) == _AT_ONCE:
                yield batch
                batch = []
                if self._recording.state().unsynced_s > _BEHIND_S:
                    await asyncio.to_thread(self._let_it_catch_up)
        if batch:
            yield batch
        self._done.set()
        await asyncio.Event().wait()

    def _let_it_catch_up(self) -> None:
        while self._recording.state().unsynced_s > _BEHIND_S:
            time.sleep(0.005)


def run_day(layout_name: str, hours: float, folder: Path) -> Iterator[tuple[float, str]]:
    """Yield (hours of feed so far, what is to be said) while the day runs, and once at the end.

    Raise AssertionError where a frame, pitch or message is missing at the end.
    """
    layout = load_layout(layout_name)
    feed = Feed(layout, hours)
    loop = asyncio.new_event_loop()
    try:
        asyncio.set_event_loop(loop)
        start = time.monotonic()
        session = Session.create(
            folder / "session",
            source=SOURCE,
            layout_text=layout.origin_text,
            settings_text="",
            roster=compose(Plan(seed=7, pitches=1), layout.deck).roster,
        )
        recording = RecordingWriter(
            folder / "session" / "recording-001.mcap", layout_text=layout.origin_text
        )
        done = asyncio.Event()
        cores: list[Pipeline] = []

        def open_mound(source: str, equipment: Equipment) -> Core | Sentence:
            cores.append(Pipeline(source, layout))
            return cores[-1]

        def connect(tell: Tell) -> _Source:
            return _Source(feed, recording, done)

        async def make() -> Monitor:
            equipment = Equipment(recording=recording, keepers=[SessionKeeper(session)])
            return Monitor(connect, open_mound, equipment, clock_ns=lambda: feed.now_ns)

        monitor = loop.run_until_complete(make())
        task = loop.create_task(monitor.run())
        looks = 0

        async def until_look() -> None:
            while not done.is_set() and not task.done():
                if feed.now_ns - _EPOCH >= looks * 3600 * NS / _LOOKS_PER_HOUR:
                    return
                await asyncio.sleep(0.02)

        while not done.is_set():
            loop.run_until_complete(until_look())
            if task.done():
                task.result()
            looks += 1
            yield (feed.now_ns - _EPOCH) / NS / 3600, ""
        counters = cores[0].continuity.counters
        monitor.stop()
        loop.run_until_complete(task)
        for keeper in monitor.equipment.keepers:
            assert loop.run_until_complete(keeper.room.finish()), "the session lacks lines"
        recording.close()
        took = time.monotonic() - start
        frames = int(np.rint(feed.hours * 3600 * 200))
        assert abs(counters.frames - frames) < 4000, (counters.frames, frames)
        assert counters.gaps == 0, "frames were lost"
        assert recording.lost_messages == 0, "the recorder lost messages"
        records = sum(1 for _ in session.pitches())
        size = recording.path.stat().st_size
        read = sum(len(batch) for batch in read_recording(recording.path).batches())
        yield (
            feed.hours,
            f"{feed.hours:.2f} h of feed in {took:.0f} s ({feed.hours * 3600 / took:.0f} times "
            f"real time): {counters.frames} frames, {records} records of {feed.pitches} pitches "
            f"and what else happened; recording {size / 1e6:.0f} MB, {read} messages read again",
        )
    finally:
        loop.close()
