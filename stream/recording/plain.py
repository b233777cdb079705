"""A recording written at once, by whoever has all the messages: simulations and imports."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from stream.recording.container import Container, MetadataMaps
from stream.recording.content import device_time, recording_metadata
from stream.recording.durable import owner_only_file
from stream.recording.writer import CHUNK_BYTES
from stream.wire import Packet


class PlainWriter:
    """Writes a new recording as fast as the disk takes it, and waits for the disk.

    Raises OSError from any method, FileExistsError where ``path`` exists.
    """

    def __init__(
        self,
        path: Path,
        *,
        layout_text: str = "",
        roster_csv: str = "",
        settings_text: str = "",
        extra_metadata: MetadataMaps | None = None,
    ) -> None:
        self._file = owner_only_file(path)
        self._container = Container()
        metadata = recording_metadata(layout_text, roster_csv, settings_text, extra_metadata)
        self._file.write(self._container.head(metadata))

    def write(self, packet: Packet, publish_ns: int | None = None) -> None:
        """Write one message; ``publish_ns`` None reads the device's time from it."""
        if publish_ns is None:
            publish_ns = device_time(packet.payload, packet.received_ns)
        self._container.add(packet.topic, packet.payload, packet.received_ns, publish_ns)
        if self._container.open_bytes >= CHUNK_BYTES:
            self._file.write(self._container.chunk())

    def close(self) -> None:
        """Write the file's end."""
        if self._file.closed:
            return
        with self._file:
            self._file.write(self._container.chunk())
            self._file.write(self._container.tail())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
