"""A screen's link to a monitor in another process.

It finds the monitor through its folder (:mod:`stream.monitor.presence`), or
looks on over the network; it notices when the monitor is gone, finds one that
was started again in the same folder, and fetches what it missed.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec
import zmq
import zmq.asyncio

from stream.access.curve import ClientKeys
from stream.actions import Action, encode_action
from stream.monitor import protocol
from stream.monitor.presence import find
from stream.monitor.protocol import (
    ALIVE,
    LOST_AFTER_S,
    NOW,
    TOLD,
    Alive,
    Ask,
    CaughtUp,
    Told,
    ToldNotCounted,
    ToldPitch,
)
from stream.monitor.view import Link
from stream.snapshot import decode_snapshot

__all__ = ["ViewerLink"]

_ANSWER_S = 3.0
_LOOK_S = 0.25
_QUEUE = 200


class ViewerLink(Link):
    """Follows a monitor; ``async with`` it, then poll.

    ``address`` is the monitor's folder, or ``tcp://HOST:PORT`` of a monitor
    that lets viewers look on over the network (with ``keys`` where it wants
    keys). Only a screen in the monitor's own folder may act, and not if it is
    ``view_only``.
    """

    def __init__(
        self,
        address: str | Path,
        *,
        source: str | None = None,
        view_only: bool = False,
        keys: ClientKeys | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(source, clock)
        self._address = address
        self._view_only = view_only
        self._keys = keys
        self._context: zmq.asyncio.Context | None = None
        self._sockets: tuple[zmq.asyncio.Socket, ...] = ()
        self._endpoints: tuple[str, ...] = ()
        self._subscribed: str | None = None
        self._task: asyncio.Task[None] | None = None
        self._heard_s = clock()
        self._stopped = False
        self._numbers = itertools.count(1)
        self._answers: dict[bytes, asyncio.Future[str]] = {}
        self._monitor_run: int | None = None
        self._session = ""
        self._told: dict[str, int] = {}
        self._asked_s: float | None = None
        self._missed = 0

    async def __aenter__(self) -> Self:
        self._context = zmq.asyncio.Context()
        self._heard_s = self._clock()
        self._attach()
        self._task = asyncio.create_task(self._run(), name="viewer link")
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._task is not None
        assert self._context is not None
        self._task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._task
        self._detach()
        self._context.term()

    @property
    def view_only(self) -> bool:
        """Whether this screen only looks on, for good: it never opens the operator's endpoint."""
        return self._view_only

    @property
    def may_act(self) -> bool:
        """Whether this screen may change anything."""
        return len(self._endpoints) == 3 and not self.lost

    @property
    def lost(self) -> bool:
        """Whether the monitor is gone: stopped, or silent for two seconds."""
        failed = self._task is not None and self._task.done()
        return failed or self._stopped or self._clock() - self._heard_s > LOST_AFTER_S

    @property
    def lost_say(self) -> str:
        """What happened and what to do, when the monitor is gone."""
        if not self.lost:
            return ""
        if self._task is not None and self._task.done() and not self._task.cancelled():
            return f"This screen lost its link ({self._task.exception()}). Close it and open it."
        if self._stopped:
            return (
                "The monitor was stopped: nothing is received or recorded now. "
                "Start it again to go on."
            )
        return (
            f"The monitor has not answered for {self._clock() - self._heard_s:.0f} s: nothing may "
            "be received or recorded now. What was recorded is kept. Start the monitor again; "
            "this screen finds it by itself."
        )

    @property
    def missed(self) -> int:
        """Messages that did not reach this screen at first and had to be fetched again."""
        return self._missed

    def follow(self, source: str) -> None:
        """Look at another mound from now on."""
        super().follow(source)
        self._subscribe()

    async def act(self, action: Action) -> str | None:
        """Ask the monitor to do ``action``; return a sentence if it did not, else None."""
        if not self.may_act:
            return self.lost_say or "This screen only looks on; it cannot change anything."
        request = protocol.pack_number(next(self._numbers))
        answer: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self._answers[request] = answer
        try:
            await self._sockets[2].send_multipart([request, encode_action(action)], zmq.NOBLOCK)
            async with asyncio.timeout(_ANSWER_S):
                return await answer or None
        except (TimeoutError, zmq.Again):
            return "The monitor did not answer; it is not known whether this was done. Look again."
        finally:
            del self._answers[request]

    async def _run(self) -> None:
        while True:
            poller = zmq.asyncio.Poller()
            for socket in self._sockets:
                poller.register(socket, zmq.POLLIN)
            if self._sockets:
                ready = dict(await poller.poll(int(_LOOK_S * 1000)))
            else:
                await asyncio.sleep(_LOOK_S)
                ready = {}
            takers = (self._take_view, self._take_catch_up, self._take_answer)
            for socket, take in zip(self._sockets, takers, strict=False):
                if socket in ready:
                    await self._drain(socket, take)
            if self.lost or not self._sockets:
                self._attach()

    async def _drain(self, socket: zmq.asyncio.Socket, take: Callable[[list[bytes]], None]) -> None:
        for _ in range(_QUEUE):
            try:
                parts = await socket.recv_multipart(zmq.NOBLOCK)
            except zmq.Again:
                return
            try:
                take(parts)
            except (msgspec.DecodeError, IndexError, ValueError):
                self._missed += 1  # of another version, or not from a monitor at all

    def _take_view(self, parts: list[bytes]) -> None:
        if parts[0] == ALIVE:
            self._take_alive(protocol.decode(parts[1], Alive))
        elif parts[0].startswith(NOW):
            snapshot = decode_snapshot(parts[2])
            self._mound_of(snapshot.source).show(snapshot, self._clock())
        elif parts[0].startswith(TOLD):
            source = parts[0][len(TOLD) : -1].decode()
            number = protocol.unpack_number(parts[1])
            if number == self._told.get(source, 0) + 1:
                self._told[source] = number
                self._take_told(source, protocol.decode(parts[2], Told))

    def _take_alive(self, alive: Alive) -> None:
        self._heard_s = self._clock()
        self._stopped = alive.stopping
        if alive.run != self._monitor_run:
            self._monitor_run = alive.run
            self._told.clear()
            if not alive.session or alive.session != self._session:
                self._mounds.clear()  # pitches of two sessions must not mix
        self._session = alive.session
        self._monitor_sentences = alive.sentences
        for source in alive.told:
            self._mound_of(source)
        if self._subscribed is None and alive.told:
            self.follow(self.source or min(alive.told))
        behind = alive.told.get(self.source or "", 0) - self._told.get(self.source or "", 0)
        waiting = self._asked_s is not None and self._clock() - self._asked_s < _ANSWER_S
        if behind > 0 and not waiting:
            if self.source in self._told:
                self._missed += behind
            self._ask()

    def _ask(self) -> None:
        assert self.source is not None
        ask = Ask(self.source, self._told.get(self.source, 0))
        request = protocol.pack_number(next(self._numbers))
        shadow: zmq.Socket[bytes] = zmq.Socket.shadow(self._sockets[1].underlying)
        with contextlib.suppress(zmq.Again):
            shadow.send_multipart([request, protocol.encode(ask)], zmq.NOBLOCK)
            self._asked_s = self._clock()

    def _take_catch_up(self, parts: list[bytes]) -> None:
        self._asked_s = None
        head: CaughtUp = protocol.decode(parts[1], CaughtUp)
        for payload in parts[2:]:
            self._take_told(head.source, protocol.decode(payload, Told))
        self._told[head.source] = max(head.told, self._told.get(head.source, 0))

    def _take_told(self, source: str, told: Told) -> None:
        mound = self._mound_of(source)
        match told:
            case ToldPitch(record=record, traces=packed):
                traces = None if packed is None else protocol.unpack_traces(packed)
                mound.put_pitch(record, traces)
            case ToldNotCounted(record=movement):
                mound.put_not_counted(movement)

    def _take_answer(self, parts: list[bytes]) -> None:
        answer = self._answers.get(parts[0])
        if answer is not None and not answer.done():
            answer.set_result(parts[1].decode())

    def _attach(self) -> None:
        """Connect to the monitor if there is one that this link is not connected to yet."""
        endpoints = self._find()
        if not endpoints or endpoints == self._endpoints:
            return
        assert self._context is not None
        self._detach()
        kinds = (zmq.SUB, zmq.DEALER, zmq.DEALER)
        sockets = []
        for kind, endpoint in zip(kinds, endpoints, strict=False):
            socket = self._context.socket(kind)
            socket.linger = 0
            socket.set_hwm(_QUEUE)
            if self._keys is not None:
                self._keys.apply(socket)
            socket.connect(endpoint)
            sockets.append(socket)
        sockets[0].subscribe(ALIVE)
        self._sockets, self._endpoints = tuple(sockets), endpoints
        self._asked_s = None
        self._subscribe()

    def _detach(self) -> None:
        for socket in self._sockets:
            socket.close()
        self._sockets, self._endpoints, self._subscribed = (), (), None

    def _subscribe(self) -> None:
        if not self._sockets or self.source is None or self.source == self._subscribed:
            return
        view = self._sockets[0]
        for kind in (NOW, TOLD):
            if self._subscribed is not None:
                view.unsubscribe(protocol.topic(kind, self._subscribed))
            view.subscribe(protocol.topic(kind, self.source))
        self._subscribed = self.source

    def _find(self) -> tuple[str, ...]:
        if isinstance(self._address, str) and self._address.startswith("tcp://"):
            host, _, port = self._address.rpartition(":")
            return (self._address, f"{host}:{int(port) + 1}")
        presence = find(Path(self._address))
        if presence is None:
            return ()
        looking = (presence.view, presence.ask)
        return looking if self._view_only else (*looking, presence.operate)
