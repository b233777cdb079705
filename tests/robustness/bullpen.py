"""Real monitors and an invented mound whose device can be paused, for faults caused for real."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import msgspec
import zmq

from simulators.feed import Device, messages, packed
from simulators.scenario import Plan, compose
from stream.files import load_layout
from stream.monitor.plan import Plan as MonitorPlan
from stream.outputs import Pitch
from stream.pipeline import Pipeline
from stream.wire import Packet, decode_force, encode_force
from tests.transport.waiting import free_port

LAYOUT = load_layout("two-plates")
SOURCE = "mound-a"


@lru_cache(maxsize=2)
def invented(pitches: int = 2, seed: int = 11) -> tuple[tuple[str, bytes], ...]:
    """Return an invented session's messages (topic, payload), as a device sends them."""
    scenario = compose(Plan(seed=seed, pitches=pitches, pitchers=1, quick=True), LAYOUT.deck)
    epoch = 1_700_000_000_000_000_000
    device = Device(source=SOURCE, block=8)
    sent = (packed(item, epoch) for item in messages(scenario, LAYOUT, device, None, epoch))
    return tuple((s.topic, s.payload) for s in sent if not s.topic.endswith("/operator"))


@lru_cache(maxsize=4)
def until_told(number: int) -> tuple[tuple[str, bytes], ...]:
    """Return the invented session up to half a second after pitch ``number`` is told.

    It then is told but not closed: its ball speed could still come.
    """
    core = Pipeline(SOURCE, LAYOUT)
    told = 0
    for at, (topic, payload) in enumerate(invented(max(2, number))):
        told += sum(isinstance(o, Pitch) for o in core.receive(Packet(topic, payload, 0)))
        if told == number:
            return invented(max(2, number))[: at + 13]
    raise AssertionError(f"the invented session has no pitch {number}")


def as_stream(sent: Sequence[tuple[str, bytes]], name: str) -> list[tuple[str, bytes]]:
    """Return the same messages from a device that has started again."""
    return [
        (topic, _renamed(payload, name) if topic.endswith("/force") else payload)
        for topic, payload in sent
    ]


def _renamed(payload: bytes, name: str) -> bytes:
    return encode_force(msgspec.structs.replace(decode_force(payload), stream=name))


def monitor_plan(feed: str, session: Path, **more: object) -> MonitorPlan:
    """Return a plan that records ``feed`` into ``session``, and ends with the tests."""
    plan = MonitorPlan(
        feed=feed, layout=LAYOUT.origin_text, session=str(session), owner=os.getpid()
    )
    return msgspec.structs.replace(plan, **more)


class Mound:
    """A device over ZeroMQ that sends what it is told to, at a steady pace."""

    def __init__(self, every_s: float = 0.002) -> None:
        self.url = f"tcp://127.0.0.1:{free_port()}"
        self.sent = 0
        self._every_s = every_s
        self._work: list[tuple[str, bytes]] = []
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Mound:
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        self._thread.join()

    def send(self, messages: Sequence[tuple[str, bytes]]) -> None:
        """Send ``messages`` after what waits already."""
        with self._lock:
            self._work += messages

    @property
    def waiting(self) -> int:
        """Messages not sent yet."""
        return len(self._work)

    def _run(self) -> None:
        with zmq.Context() as context, context.socket(zmq.XPUB) as socket:
            socket.linger = 0
            socket.sndhwm = 0
            socket.bind(self.url)
            looked_on = False
            due = time.monotonic()
            while not self._stop.is_set():
                # Nothing is sent until somebody listens, and again when he has gone.
                while socket.poll(0 if looked_on else 20):
                    looked_on = socket.recv()[:1] == b"\x01"
                if looked_on and self._work:
                    with self._lock:
                        topic, payload = self._work.pop(0)
                    socket.send_multipart([topic.encode(), payload])
                    self.sent += 1
                due = max(due + self._every_s, time.monotonic() - 0.1)
                time.sleep(max(0.0, due - time.monotonic()))
