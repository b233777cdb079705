"""The monitor's side of :mod:`stream.monitor.protocol`: pictures and news for whoever looks on."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec
import zmq
import zmq.asyncio

from stream.access.curve import Doorkeeper, ServerKeys
from stream.actions import decode_action
from stream.monitor import protocol
from stream.monitor.protocol import NOW, TOLD, Alive, Ask, CaughtUp, ToldNotCounted, ToldPitch
from stream.monitor.view import KEPT_NOT_COUNTED, KEPT_PITCHES, KEPT_TRACES
from stream.outputs import (
    NotCounted,
    NotCountedRecord,
    Output,
    Pitch,
    PitchChanged,
    PitchRecord,
)
from stream.snapshot import Sentence, Snapshot, encode_snapshot
from stream.wire import Packet, TopicKind, WireError, topic

#: Messages that may wait for one viewer; a viewer who misses more fetches them again.
_WAITING = 200
_WAITING_ANSWERS = 8
_MAX_QUESTION_BYTES = 64 * 1024
_QUESTION_PARTS = 3


@dataclass(frozen=True)
class Kept:
    """Something told, with the number under which it was told last."""

    number: int
    told: ToldPitch | ToldNotCounted


class Memory:
    """What was told of one mound, for viewers who come later."""

    def __init__(self) -> None:
        self.number = 0
        self._pitches: dict[int, Kept] = {}
        self._movements: list[Kept] = []

    def pitch(self, record: PitchRecord, traces: protocol.PackedTraces | None) -> ToldPitch:
        """Keep a pitch, new or changed; return what is to be told now."""
        self.number += 1
        known = self._pitches.get(record.number)
        if traces is None and known is not None and isinstance(known.told, ToldPitch):
            kept = known.told.traces
        else:
            kept = traces
        self._pitches[record.number] = Kept(self.number, ToldPitch(record, kept))
        if known is None:
            self._forget()
        return ToldPitch(record, traces)

    def not_counted(self, told: ToldNotCounted) -> ToldNotCounted:
        """Keep a movement that was not counted; return what is to be told now."""
        self.number += 1
        self._movements.append(Kept(self.number, told))
        del self._movements[:-KEPT_NOT_COUNTED]
        return told

    def since(self, number: int) -> list[bytes]:
        """Return, encoded, everything told after ``number``, oldest pitch first."""
        kept = [self._pitches[n] for n in sorted(self._pitches)] + self._movements
        return [protocol.encode(k.told) for k in kept if k.number > number]

    def _forget(self) -> None:
        numbers = sorted(self._pitches)
        for old in numbers[:-KEPT_PITCHES]:
            del self._pitches[old]
        for old in numbers[-KEPT_PITCHES:-KEPT_TRACES]:
            kept = self._pitches[old]
            if isinstance(kept.told, ToldPitch) and kept.told.traces is not None:
                self._pitches[old] = Kept(kept.number, ToldPitch(kept.told.record))


class ViewServer:
    """Lets viewers look on at two endpoints, and one operator act at a third if there is one.

    :attr:`act`, where there is a third, takes the packet of an action and
    returns a sentence if it was refused. Nothing here ever waits for a viewer.
    """

    def __init__(
        self,
        context: zmq.asyncio.Context,
        endpoints: Sequence[str],
        keys: ServerKeys | None = None,
    ) -> None:
        self._memories: dict[str, Memory] = {}
        self._run = time.time_ns()
        #: The id of the session that is shown, as far as it is known.
        self.session = ""
        self._wanted: set[bytes] = set()
        self.act: Callable[[Packet], str | None] | None = None
        self._pictures: dict[str, int] = {}
        self._doorkeeper = Doorkeeper(context, keys.authorised) if keys else None
        kinds = (zmq.XPUB, zmq.ROUTER, zmq.ROUTER)
        self._sockets: list[zmq.asyncio.Socket] = []
        try:
            for kind, endpoint in zip(kinds, endpoints, strict=False):
                socket = context.socket(kind)
                self._sockets.append(socket)
                socket.linger = 0
                socket.sndhwm = _WAITING if kind == zmq.XPUB else _WAITING_ANSWERS
                socket.maxmsgsize = _MAX_QUESTION_BYTES
                if keys is not None:
                    keys.apply(socket)
                socket.bind(endpoint)
        except zmq.ZMQError as error:
            self.close()
            raise OSError(error.errno, error.strerror, endpoint) from None
        self._plain: list[zmq.Socket[bytes]] = [
            zmq.Socket.shadow(s.underlying) for s in self._sockets
        ]

    def take(self, outputs: Sequence[Output]) -> None:
        """Tell viewers what came out of the core."""
        for output in outputs:
            told: ToldPitch | ToldNotCounted
            match output:
                case Pitch(record=record, traces=traces):
                    source = record.source
                    told = self._memory(source).pitch(record, protocol.pack_traces(traces))
                case PitchChanged(record=record):
                    source = record.source
                    told = self._memory(source).pitch(record, None)
                case NotCounted(record=movement):
                    source = movement.source
                    told = self._memory(source).not_counted(ToldNotCounted(movement))
                case _:
                    continue
            number = protocol.pack_number(self._memory(source).number)
            self._send(protocol.topic(TOLD, source), number, protocol.encode(told))

    def remember(self, record: PitchRecord | NotCountedRecord) -> None:
        """Keep what an earlier run of this session told."""
        if isinstance(record, PitchRecord):
            self._memory(record.source).pitch(record, None)
        else:
            self._memory(record.source).not_counted(ToldNotCounted(record))

    @property
    def looked_at(self) -> bool:
        """Whether there is anybody at all."""
        return bool(self._wanted)

    def wants_picture(self, source: str) -> bool:
        """Whether anybody looks at ``source``."""
        return protocol.topic(NOW, source) in self._wanted

    def show(self, snapshot: Snapshot) -> None:
        """Send a picture to those who look."""
        number = self._pictures[snapshot.source] = self._pictures.get(snapshot.source, 0) + 1
        self._send(
            protocol.topic(NOW, snapshot.source),
            protocol.pack_number(number),
            encode_snapshot(snapshot),
        )

    def alive(
        self, sources: Sequence[str], sentences: list[Sentence], stopping: bool = False
    ) -> None:
        """Give a sign of life."""
        told = {source: self._memory(source).number for source in sources}
        alive = Alive(self._run, told, sentences, stopping, self.session)
        self._send(protocol.ALIVE, protocol.encode(alive))

    async def run(self) -> None:
        """Answer viewers until cancelled."""
        answers = (self._subscription, self._catch_up, self._operate)
        async with asyncio.TaskGroup() as tasks:
            if self._doorkeeper is not None:
                tasks.create_task(self._doorkeeper.run(), name="doorkeeper of the viewers")
            for socket, answer in zip(self._sockets, answers, strict=False):
                tasks.create_task(_serve(socket, answer), name=f"link {answer.__name__}")

    def close(self) -> None:
        """Close the endpoints."""
        for socket in self._sockets:
            socket.close()
        if self._doorkeeper is not None:
            self._doorkeeper.close()

    def _memory(self, source: str) -> Memory:
        return self._memories.setdefault(source, Memory())

    def _send(self, *parts: bytes) -> None:
        with contextlib.suppress(zmq.Again):
            self._plain[0].send_multipart(parts, zmq.NOBLOCK)

    def _subscription(self, parts: list[bytes]) -> None:
        if parts[0][:1] == b"\x01":
            self._wanted.add(parts[0][1:])
        else:
            self._wanted.discard(parts[0][1:])

    def _catch_up(self, parts: list[bytes]) -> None:
        ask: Ask = protocol.decode(parts[2], Ask)
        memory = self._memories.get(ask.source)
        head = CaughtUp(ask.source, memory.number if memory else 0)
        news = memory.since(ask.since) if memory else []
        self._answer(1, [*parts[:2], protocol.encode(head), *news])

    def _operate(self, parts: list[bytes]) -> None:
        try:
            action = decode_action(parts[2])
            packet = Packet(topic(action.source, TopicKind.OPERATOR), parts[2], time.time_ns())
            sentence = self.act(packet) if self.act else "This monitor takes no actions."
        except WireError as error:
            sentence = f"This was not done: {error.detail}."
        self._answer(2, [*parts[:2], (sentence or "").encode()])

    def _answer(self, socket: int, parts: list[bytes]) -> None:
        # A viewer who asks and never listens loses his answers, not our time.
        with contextlib.suppress(zmq.Again, zmq.ZMQError):
            self._plain[socket].send_multipart(parts, zmq.NOBLOCK)


async def _serve(socket: zmq.asyncio.Socket, answer: Callable[[list[bytes]], None]) -> None:
    while True:
        parts = await socket.recv_multipart()
        if socket.type != zmq.XPUB and len(parts) != _QUESTION_PARTS:
            continue
        with contextlib.suppress(msgspec.DecodeError):
            answer(parts)
