"""The monitor: one task group of named tasks around the cores of its mounds.

feed  -> recorder (the bytes as they came) -> core of that mound -> whoever takes outputs
ticks -> every core, twice a second: time passes where no messages come
pulse -> health to the publisher, sentences to the operator, once a second
look  -> pictures to viewers who look

Nothing in the way of the feed waits: the recorder, the keepers, the publisher
and the viewers have bounded queues, and what they drop they count and say.
A task that fails ends the monitor with its name; a peer that fails never does.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Callable, Coroutine, Iterable, Mapping, Sequence
from contextlib import aclosing
from typing import Any

import msgspec

from stream.actions import decode_action
from stream.monitor import words
from stream.monitor.keepers import Keeper
from stream.monitor.link import ViewServer
from stream.monitor.mounds import Core, Mounds
from stream.monitor.presence import AlreadyRunning
from stream.monitor.protocol import ALIVE_EVERY_S, PICTURES_PER_S
from stream.monitor.voice import Voice
from stream.outputs import Fault, Output, Pitch, PitchClosed
from stream.recording.writer import RecordingWriter
from stream.sinks.messages import health_message, message_of
from stream.sinks.publisher import Publisher
from stream.snapshot import Level, Sentence, Snapshot
from stream.sources.source import Source, Tell
from stream.wire import Packet, WireError, parse_topic

TICK_S = 0.5
#: After the last pitch asked for, how long its ball speed may still come, s.
SPEED_MAY_COME_S = 4.0


Job = Callable[[], Coroutine[Any, Any, None]]


class TaskFailed(Exception):  # noqa: N818 - said to the operator as it stands
    """A task of the monitor ended that must not end."""


class Equipment(msgspec.Struct, kw_only=True):
    """What one monitor has beside its source; filled in by :mod:`stream.monitor.compose`."""

    recording: RecordingWriter | None = None
    keepers: list[Keeper] = []
    publisher: Publisher | None = None
    servers: list[ViewServer] = []
    #: What the operator should know from the beginning.
    notices: list[Sentence] = []


class Monitor:
    """Receives, records, measures and tells, until stopped.

    ``connect`` makes the source; ``open_mound`` makes the core of a mound that
    is heard for the first time, or says why it is not followed.
    ``until_pitches`` ends the monitor after so many pitches of all mounds.
    """

    def __init__(
        self,
        connect: Callable[[Tell], Source],
        open_mound: Callable[[str, Equipment], Core | Sentence],
        equipment: Equipment,
        *,
        until_pitches: int | None = None,
        clock_ns: Callable[[], int] = time.time_ns,
    ) -> None:
        self.source = connect(self._tell)
        self.equipment = equipment
        self._until = until_pitches
        self._clock_ns = clock_ns
        self._connection: Sentence | None = None
        self._stop = asyncio.Event()
        self._measured = 0
        self._closed = 0
        self._ending = False
        self._voice = Voice(self._say)
        self._mounds = Mounds(
            lambda source: open_mound(source, self.equipment), self._voice.happened
        )
        self._group: asyncio.TaskGroup | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._watched: list[Keeper] = []
        self._asked_for_check: set[str] = set()

    def stop(self) -> None:
        """End the monitor in good order."""
        self._stop.set()

    async def run(self) -> None:
        """Run until stopped; raise :class:`TaskFailed` if a task fails."""
        try:
            async with asyncio.TaskGroup() as self._group:
                for name, job in self._jobs():
                    self._begin(name, job)
                self._watch_keepers()
                await self._stop.wait()
                await self._finish()
                for task in self._tasks:
                    task.cancel()
        except* TaskFailed as failures:
            with contextlib.suppress(Exception):  # what failed first is what is told
                await self._finish()
            raise failures.exceptions[0] from failures.exceptions[0].__cause__

    def act(self, packet: Packet) -> str | None:
        """Do what the operator asks; return a sentence if it was refused."""
        source, _ = parse_topic(packet.topic)
        action = decode_action(packet.payload)
        core = self._mounds.get(source)
        if core is None:
            return f"Mound {source!r} has not been heard yet; nothing was changed."
        if self.equipment.recording is not None:
            self.equipment.recording.write(packet)
        outputs = core.receive_many([packet])
        for keeper in self.equipment.keepers:
            keeper.acted(action)
        self._hand_on(outputs)
        refusals = [output.say for output in outputs if isinstance(output, Fault)]
        return refusals[0] if refusals else None

    def say(self, sentence: Sentence) -> None:
        """Say something that has happened."""
        self._voice.happened(sentence)

    def sentences(self) -> list[Sentence]:
        """Return what the operator should know of the monitor itself, now."""
        connection = [self._connection] if self._connection else []
        equipment = self.equipment
        return [
            *connection,
            *equipment.notices,
            *words.of_recording(equipment.recording),
            *words.of_keepers(equipment.keepers),
            *words.of_source(self.source),
            *words.of_publisher(equipment.publisher),
            *self._mounds.sentences(),
        ]

    def _jobs(self) -> Iterable[tuple[str, Job]]:
        yield f"feed from {self.source.address}", self._feed
        yield "ticks", self._ticks
        yield "pulse", self._pulse
        if self.equipment.servers:
            yield "look", self._look
        publisher = self.equipment.publisher
        if publisher is not None:
            yield f"publisher to {publisher.address}", publisher.run
        for server in self.equipment.servers:
            yield "link to viewers", server.run

    def _begin(self, name: str, job: Job) -> None:
        assert self._group is not None
        self._tasks.append(self._group.create_task(_named(name, job), name=name))

    def _watch_keepers(self) -> None:
        for keeper in self.equipment.keepers:
            if keeper not in self._watched:
                self._watched.append(keeper)
                self._begin(keeper.room.name, keeper.room.watch)

    async def _feed(self) -> None:
        async with aclosing(self.source.batches()) as batches:
            async for batch in batches:
                if not self._stop.is_set():  # what comes while things are put away is not begun
                    self._receive(batch)

    def _receive(self, batch: Sequence[Packet]) -> None:
        """Record all that came, in its order; then let each mound's core take what is its own."""
        mounds: dict[str, tuple[Core, list[Packet]]] = {}
        for packet in batch:
            source = packet.topic.split("/")[1]
            if source not in mounds:
                core = self._mounds.open(source, packet)
                self._watch_keepers()  # a session's begins with its mound
                if core is None:
                    continue
                mounds[source] = core, []
            mounds[source][1].append(packet)
            if self.equipment.recording is not None:
                self.equipment.recording.write(packet)
        for core, packets in mounds.values():
            self._hand_on(core.receive_many(packets))

    def _hand_on(self, outputs: Sequence[Output]) -> None:
        if not outputs:
            return
        now_ns = self._clock_ns()
        for output in outputs:
            message = message_of(output)
            if message is not None:
                if self.equipment.recording is not None:
                    self.equipment.recording.write_output(message.topic, message.payload, now_ns)
                if self.equipment.publisher is not None:
                    self.equipment.publisher.offer(message)
            if isinstance(output, Fault):
                self._voice.happened(Sentence(Level.WARNING, output.kind, output.say))
            self._measured += isinstance(output, Pitch)
            self._closed += isinstance(output, PitchClosed)
        for keeper in self.equipment.keepers:
            keeper.take(outputs)
        for server in self.equipment.servers:
            server.take(outputs)
        if self._until is not None and self._measured >= self._until:
            self._end_soon()

    def _end_soon(self) -> None:
        if self._until is not None and self._closed >= self._until:
            self.stop()
        elif not self._ending:
            self._ending = True
            asyncio.get_running_loop().call_later(SPEED_MAY_COME_S, self.stop)

    async def _ticks(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            for at, (_, core) in enumerate(list(self._mounds.items())):
                if at:
                    await asyncio.sleep(0)  # many mounds at once would hold the feed
                self._hand_on(core.tick(self._clock_ns()))

    async def _pulse(self) -> None:
        while True:
            await asyncio.sleep(1.0)
            self._voice.standing(self.sentences())
            self._ask_for_check()
            if self.equipment.publisher is not None:
                for source, core in list(self._mounds.items()):
                    health = core.health(self._clock_ns())
                    self.equipment.publisher.offer(health_message(source, self._own(health)))
                    await asyncio.sleep(0)

    def _own(self, health: Mapping[str, Any]) -> Mapping[str, Any]:
        recording = self.equipment.recording
        state = msgspec.to_builtins(recording.state()) if recording is not None else None
        if state is not None:
            del state["path"]  # nobody's folders are published
        return {**health, "recording": state, "dropped_messages": self.source.dropped}

    async def _look(self) -> None:
        alive_at = 0.0
        while True:
            if not any(server.looked_at for server in self.equipment.servers):
                await asyncio.sleep(ALIVE_EVERY_S)
                continue
            await asyncio.sleep(1.0 / PICTURES_PER_S)
            for source, core in list(self._mounds.items()):
                wanting = [s for s in self.equipment.servers if s.wants_picture(source)]
                if wanting:
                    picture = self._picture(core)
                    for server in wanting:
                        server.show(picture)
                    await asyncio.sleep(0)
            if time.monotonic() - alive_at >= ALIVE_EVERY_S:
                alive_at = time.monotonic()
                self._give_sign()

    def _tell(self, sentence: Sentence) -> None:
        self._connection = sentence
        self._voice.standing([sentence])

    def _give_sign(self, stopping: bool = False) -> None:
        for server in self.equipment.servers:
            server.alive([source for source, _ in self._mounds.items()], self.sentences(), stopping)

    def _picture(self, core: Core) -> Snapshot:
        recording = self.equipment.recording
        state = recording.state() if recording is not None else None
        now = core.snapshot(self._clock_ns())
        said = [*now.sentences, *words.of_check(now)]
        return msgspec.structs.replace(now, recording=state, sentences=said)

    def _ask_for_check(self) -> None:
        """Say once of each mound whose set-up check has not been passed that it has not."""
        for source, core in self._mounds.items():
            if source not in self._asked_for_check:
                self._asked_for_check.add(source)
                self._voice.standing(words.of_check(core.snapshot(self._clock_ns())))

    def _say(self, sentence: Sentence) -> None:
        for keeper in self.equipment.keepers:
            keeper.said(sentence)

    async def _finish(self) -> None:
        self._hand_on(self._mounds.finish())
        self._give_sign(stopping=True)
        if self.equipment.publisher is not None:
            await self.equipment.publisher.finish()


async def _named(name: str, job: Job) -> None:
    try:
        await job()
    except Exception as error:
        raise TaskFailed(f"{name}: {_words_of(error)}") from error
    raise TaskFailed(f"{name}: it ended although it must not")


def _words_of(error: BaseException) -> str:
    if isinstance(error, BaseExceptionGroup):
        return "; ".join(_words_of(inner) for inner in error.exceptions)
    if isinstance(error, WireError | AlreadyRunning):
        return str(error)
    return f"{type(error).__name__}: {error}"
