"""A device in a thread that sends at the true rate what a test puts on its deck."""

from __future__ import annotations

import threading
import time
from collections import deque
from types import TracebackType
from typing import Self

import numpy as np
import zmq

from simulators.sensor import Imperfections
from simulators.timeline import Scenario
from stream.wire import (
    ForceMessage,
    SpeedMessage,
    TopicKind,
    encode_force,
    encode_speed,
    topic,
)
from tests.checks.bench import RATE, Array, layout, reads

SOURCE = "mound-a"
BLOCK = 4


class HandDevice:
    """Invented readings of the two-plates deck on ``url``.

    :meth:`bear` changes the load; :meth:`play` lets an invented session happen on the deck.
    """

    def __init__(self) -> None:
        self._layout = layout("two-plates")
        self._load = reads(self._layout, 0.0, (1.8, 0.3))
        self._context: zmq.Context[zmq.Socket[bytes]] = zmq.Context()
        self._socket = self._context.socket(zmq.PUB)
        port = self._socket.bind_to_random_port("tcp://127.0.0.1")
        self.url = f"tcp://127.0.0.1:{port}"
        self._played: deque[Array] = deque()
        self._speeds: list[tuple[float, float]] = []
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="hand device", daemon=True)

    def bear(self, kg: float, at: tuple[float, float]) -> None:
        """Let the deck bear ``kg`` at ``at`` from now on."""
        self._load = reads(self._layout, kg, at)

    def play(self, scenario: Scenario, since_s: float = 0.0) -> None:
        """Let ``scenario`` happen from its second ``since_s`` on; the load lies there after."""
        rendered = scenario.render(self._layout, Imperfections.none(), RATE)
        samples = np.concatenate([part for _, part in rendered])
        first = round(since_s * RATE)
        blocks = [samples[at : at + BLOCK] for at in range(first, len(samples) - BLOCK + 1, BLOCK)]
        self._speeds = [(told.time - since_s, told.speed_mps) for told in scenario.speeds]
        self._played.extend(blocks)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end.set()
        self._thread.join()
        self._context.destroy(linger=0)

    def _run(self) -> None:
        rng = np.random.default_rng(5)
        offset = 5.0 * rng.standard_normal(self._layout.channels)
        name = topic(SOURCE, TopicKind.FORCE).encode()
        by_radar = topic(SOURCE, TopicKind.SPEED).encode()
        began, frame, played = time.monotonic(), 0, 0
        while not self._end.is_set():
            noise = rng.standard_normal((BLOCK, self._layout.channels))
            ideal = self._played.popleft() if self._played else self._load
            played += BLOCK if self._played else 0
            rows = (ideal + offset + noise).astype(np.float32)
            now_ns = round(frame / RATE * 1e9)
            message = ForceMessage(SOURCE, "s1", frame, now_ns, RATE, rows)
            self._socket.send_multipart([name, encode_force(message)])
            if self._speeds and played / RATE >= self._speeds[0][0]:
                told = SpeedMessage(SOURCE, now_ns, self._speeds.pop(0)[1])
                self._socket.send_multipart([by_radar, encode_speed(told)])
            frame += BLOCK
            time.sleep(max(0.0, began + frame / RATE - time.monotonic()))
