"""The recorder: writes what comes, in a thread of its own, so that the disk never holds the feed.

At most half a second is lost to a kill or a power cut: every ``SYNC_S`` the
open chunk is finished, written and synced. Where the disk is full or fails,
messages wait in memory (``MAX_WAITING`` of them, over a minute and a half of
feed at 200 messages a second) and follow in order when there is space again;
beyond that the newest are counted, and a mark in the recording says from when
to when it is incomplete.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import Self

from stream.recording.container import HOLE_TOPIC, MAX_TOPICS, Container, Hole, MetadataMaps
from stream.recording.content import device_time, recording_metadata
from stream.recording.durable import DurableFile, is_full, say_why
from stream.recording.intake import Entry, Intake
from stream.snapshot import RecordingNow
from stream.wire import Packet, Payload, WireError, parse_topic

#: A little under the half second promised: the write itself takes time too.
SYNC_S = 0.4
RETRY_S = 0.5
CHUNK_BYTES = 256 * 1024
MAX_WAITING = 20_000
MAX_WAITING_BYTES = 32 * 1024 * 1024


class RecordingIncompleteError(Exception):
    """The recording could not be finished; the text says why."""


class RecordingWriter:
    """Records a live feed to a new file; :meth:`write` never waits for the disk.

    ``roster_csv`` must be the coded roster (no names). Raises OSError where
    the file cannot be made at all, FileExistsError where there is one.
    """

    def __init__(
        self,
        path: Path,
        *,
        layout_text: str = "",
        roster_csv: str = "",
        settings_text: str = "",
        extra_metadata: MetadataMaps | None = None,
        clock: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self.path = path
        self._clock = clock
        self._file = DurableFile(path)
        self._container = Container()
        self._intake = Intake(MAX_WAITING, MAX_WAITING_BYTES, wake_bytes=CHUNK_BYTES)
        self._topics: set[str] = set()
        # What the file must get next, how many messages that is and since when it waits.
        self._owed = self._container.head(
            recording_metadata(layout_text, roster_csv, settings_text, extra_metadata)
        )
        self._owed_messages = 0
        self._owed_since: int | None = None
        self._refusal: str | None = None
        self._failure: Exception | None = None
        self._synced = 0
        self._on = True
        self._settle()
        self._thread = Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    def write(self, packet: Packet, publish_ns: int | None = None) -> bool:
        """Hand over one message as it came; return False where it could not be taken.

        ``publish_ns`` is the device's time; None reads it from the message.
        A topic that is not the feed's is not recorded.
        """
        if packet.topic not in self._topics and not self._learn(packet.topic):
            return False
        entry = Entry(packet.topic, packet.payload, packet.received_ns, publish_ns)
        return self._intake.put(entry, self._clock())

    def write_output(self, topic: str, payload: Payload, log_ns: int) -> bool:
        """Hand over a result or an operator's action, at the host time ``log_ns``."""
        return self._intake.put(Entry(topic, payload, log_ns, log_ns), self._clock())

    def state(self) -> RecordingNow:
        """Return what the screen says of the recording."""
        since = self._owed_since or self._intake.oldest_ns
        return RecordingNow(
            on=self._on,
            path=str(self.path),
            bytes=self._file.length,
            unsynced_s=0.0 if since is None else max(self._clock() - since, 0) * 1e-9,
            trouble=self._trouble(),
        )

    @property
    def lost_messages(self) -> int:
        """Messages that the recording had to leave out so far."""
        return self._intake.lost

    @property
    def synced_messages(self) -> int:
        """Messages that are safe on the disk, marks of holes included."""
        return self._synced

    def close(self) -> None:
        """Write what waits and the file's end; raise :class:`RecordingIncompleteError`."""
        if not self._on:
            return
        self._intake.close()
        self._thread.join()
        self._on = False
        self._file.close()
        if self._failure is not None:
            raise RecordingIncompleteError(
                f"the recorder failed: {self._failure!r}"
            ) from self._failure
        if self._owed:
            missing = self._owed_messages + self._intake.waiting
            raise RecordingIncompleteError(
                f"{self._refusal}. The last {missing} messages of {self.path.name} are not on "
                "the disk; what was written before them opens"
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _learn(self, topic: str) -> bool:
        """Take a feed's topic; no other, and not so many that a stranger could fill the memory."""
        if len(self._topics) >= MAX_TOPICS:
            return False
        try:
            parse_topic(topic)
        except WireError:
            return False
        self._topics.add(topic)
        return True

    def _run(self) -> None:
        try:
            due = time.monotonic() + SYNC_S
            while not self._intake.wait(due - time.monotonic()):
                due = time.monotonic() + SYNC_S
                self._drain()
                while self._owed and not self._intake.pause(RETRY_S):
                    self._settle()
            self._drain()
            if not self._owed:
                self._owed = self._container.tail()
                self._settle()
        except Exception as error:  # nobody awaits this thread: state() and close() tell it
            self._failure = error
            self._intake.close()

    def _drain(self) -> None:
        """Put all that waits on the disk; while the disk refuses, leave it in the queue."""
        self._settle()
        if self._owed:
            return
        self._owed_since = self._intake.oldest_ns
        entries = self._intake.take()
        chunks = []
        for entry in entries:
            self._add(entry)
            if self._container.open_bytes >= CHUNK_BYTES:
                chunks.append(self._container.chunk())
        chunks.append(self._container.chunk())
        self._owed, self._owed_messages = b"".join(chunks), len(entries)
        self._settle()

    def _add(self, entry: Entry | Hole) -> None:
        match entry:
            case Hole():
                self._container.add(HOLE_TOPIC, entry.encode(), entry.to_ns, entry.to_ns)
            case Entry(topic, payload, log_ns, publish_ns):
                if publish_ns is None:
                    publish_ns = device_time(payload, log_ns)
                self._container.add(topic, payload, log_ns, publish_ns)

    def _settle(self) -> None:
        """Try to write what is owed; on refusal keep it and remember why."""
        if not self._owed:
            return
        try:
            self._file.append(self._owed)
        except OSError as error:
            self._refusal = say_why(error)
            self._intake.reason = "disk_full" if is_full(error) else "disk_error"
            return
        self._synced += self._owed_messages
        self._owed, self._owed_messages, self._owed_since = b"", 0, None
        self._refusal = None
        self._intake.reason = "slow_disk"

    def _trouble(self) -> str | None:
        if self._failure is not None:
            return f"The recorder has failed ({self._failure!r}). Restart the monitor."
        if self._refusal is not None:
            return (
                f"NOT RECORDING. {self._refusal}; recording goes on by itself then. "
                f"{self._intake.waiting} messages wait in memory, {self._intake.lost} are lost."
            )
        if self._on and self._file.deleted:
            return "The recording's file has been deleted. Restart the monitor to begin a new one."
        return None
