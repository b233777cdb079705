"""The bounded queue between the feed and the disk: never waits, and counts what it cannot take."""

from __future__ import annotations

import threading
from collections import deque
from typing import NamedTuple

from stream.recording.container import Hole
from stream.wire import Payload


class Entry(NamedTuple):
    """One message on its way to the disk; ``publish_ns`` None: it is in the message."""

    topic: str
    payload: Payload
    log_ns: int
    publish_ns: int | None


class Intake:
    """Messages in order, with a mark where some are missing.

    ``put`` is called by the feed and returns at once; ``take``, ``wait`` and
    ``pause`` by the thread that writes. ``now_ns`` is any steady clock.
    """

    def __init__(self, max_messages: int, max_bytes: int, wake_bytes: int) -> None:
        self._max_messages = max_messages
        self._max_bytes = max_bytes
        self._wake_bytes = wake_bytes
        self._changed = threading.Condition(threading.Lock())
        self._waiting: deque[Entry | Hole] = deque()
        self._bytes = 0
        self._hole: Hole | None = None
        self._closed = False
        #: Messages not taken so far, ever.
        self.lost = 0
        #: Why the disk is behind, for the mark of a hole.
        self.reason = "slow_disk"
        #: When the oldest waiting message came.
        self.oldest_ns: int | None = None

    def put(self, entry: Entry, now_ns: int) -> bool:
        """Take ``entry``, or count it as lost and return False."""
        size = len(entry.payload)
        with self._changed:
            full = len(self._waiting) >= self._max_messages or self._bytes + size > self._max_bytes
            if full or self._closed:
                self._lose(entry)
                return False
            if self._hole is not None:
                self._waiting.append(self._hole)
                self._hole = None
            self._waiting.append(entry)
            self._bytes += size
            if self.oldest_ns is None:
                self.oldest_ns = now_ns
            # The writer wakes by itself for the everyday feed; only a flood calls it early.
            if self._bytes - size < self._wake_bytes <= self._bytes:
                self._changed.notify()
            return True

    def take(self) -> list[Entry | Hole]:
        """Return all that waits, oldest first, and a mark for what was lost since."""
        with self._changed:
            taken = list(self._waiting)
            self._waiting.clear()
            self._bytes = 0
            self.oldest_ns = None
            if self._hole is not None:
                taken.append(self._hole)
                self._hole = None
            return taken

    def close(self) -> None:
        """Take nothing more and wake whoever waits."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def wait(self, timeout_s: float) -> bool:
        """Wait for the time to pass, much data or the end; return whether it is the end."""
        with self._changed:
            self._changed.wait_for(
                lambda: self._closed or self._bytes >= self._wake_bytes, timeout_s
            )
            return self._closed

    def pause(self, timeout_s: float) -> bool:
        """Wait as :meth:`wait` does, however much waits."""
        with self._changed:
            self._changed.wait_for(lambda: self._closed, timeout_s)
            return self._closed

    @property
    def waiting(self) -> int:
        """How many messages wait."""
        return len(self._waiting)

    def _lose(self, entry: Entry) -> None:
        self.lost += 1
        if self._hole is None:
            self._hole = Hole(entry.log_ns, entry.log_ns, 1, self.reason)
        else:
            self._hole = self._hole._replace(to_ns=entry.log_ns, messages=self._hole.messages + 1)
