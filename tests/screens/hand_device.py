"""A device in a thread that sends at the true rate what a test puts on its deck."""

from __future__ import annotations

import threading
import time
from types import TracebackType
from typing import Self

import numpy as np
import zmq

from stream.wire import ForceMessage, TopicKind, encode_force, topic
from tests.checks.bench import RATE, layout, reads

SOURCE = "mound-a"
BLOCK = 4


class HandDevice:
    """Invented readings of the two-plates deck on ``url``; :meth:`bear` changes the load."""

    def __init__(self) -> None:
        self._layout = layout("two-plates")
        self._load = reads(self._layout, 0.0, (1.8, 0.3))
        self._context: zmq.Context[zmq.Socket[bytes]] = zmq.Context()
        self._socket = self._context.socket(zmq.PUB)
        port = self._socket.bind_to_random_port("tcp://127.0.0.1")
        self.url = f"tcp://127.0.0.1:{port}"
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="hand device", daemon=True)

    def bear(self, kg: float, at: tuple[float, float]) -> None:
        """Let the deck bear ``kg`` at ``at`` from now on."""
        self._load = reads(self._layout, kg, at)

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
        began, frame = time.monotonic(), 0
        while not self._end.is_set():
            noise = rng.standard_normal((BLOCK, self._layout.channels))
            rows = (self._load + offset + noise).astype(np.float32)
            message = ForceMessage(SOURCE, "s1", frame, round(frame / RATE * 1e9), RATE, rows)
            self._socket.send_multipart([name, encode_force(message)])
            frame += BLOCK
            time.sleep(max(0.0, began + frame / RATE - time.monotonic()))
