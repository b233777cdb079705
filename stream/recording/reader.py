"""Reads a recording as fast as it can be read safely.

Chunks are taken apart here and not by the ``mcap`` library's stream reader,
which makes an object of every record and gives up at the first byte that is
wrong. Every chunk's checksum is tested before a message of it is believed;
what fails is skipped and reported, and so is what the running numbers of the
messages say is missing.

A recording of ours ("strict" below) holds nothing outside chunks and sealed
metadata. An MCAP file of another program may have messages outside chunks
and no checksums; those are read too, and counted as unchecked.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import msgspec
import zstandard
from isal.isal_zlib import crc32
from mcap.opcode import Opcode

from stream.recording.container import HOLE_TOPIC, MAGIC, MESSAGE_HEAD, Hole
from stream.recording.head import Head, RecordingError, Topics, read_head
from stream.recording.records import (
    CHUNK_HEAD,
    MAX_RECORD_BYTES,
    RECORD_HEAD,
    Damage,
    Record,
    read_records,
)
from stream.wire import Packet

_STRICT = frozenset({Opcode.HEADER, Opcode.METADATA, Opcode.CHUNK, Opcode.DATA_END})
_ANY = frozenset(Opcode)
_CHUNK = struct.Struct(CHUNK_HEAD.format + "I")
_LENGTH_BYTES = 8
_FOOTER = RECORD_HEAD.pack(Opcode.FOOTER, 20)
_BATCH = 1024
#: A batch of large messages ends earlier, so that memory does not hang on their size.
_BATCH_BYTES = 4 * 1024 * 1024
#: Several chunks: a read larger than the buffer goes past it, into memory not yet in the cache.
_BUFFER = 1024 * 1024
_HALF_THE_NUMBERS = 2**31


class BrokenRecordError(ValueError):
    """A record whose content cannot be believed."""


@dataclass
class ReadReport:
    """What one pass over a recording met; complete when the pass is."""

    messages: int = 0
    #: How far the pass has come, bytes into the file.
    offset: int = 0
    #: Messages that were recorded and cannot be read any more.
    missing: int = 0
    #: Messages that carry no checksum (only in files of other programs).
    unchecked: int = 0
    damage: list[Damage] = field(default_factory=list)
    holes: list[Hole] = field(default_factory=list)

    def sentences(self) -> list[str]:
        """Return what a user should know, in words; nothing where all is well."""
        said = [f"The recording is damaged: {damage}." for damage in self.damage]
        if self.missing:
            said.append(f"{self.missing} recorded messages cannot be read any more.")
        said += [
            f"The recording has a hole of {hole.messages} messages "
            f"({(hole.to_ns - hole.from_ns) * 1e-9:.1f} s): {hole.why.replace('_', ' ')}."
            for hole in self.holes
        ]
        return said


class Recording:
    """One recording on disk. Made by :func:`read_recording`; each pass opens the file anew."""

    def __init__(self, path: Path, head: Head, truncated: bool) -> None:
        self.path = path
        #: Metadata records by name: "layout" {"toml"}, "roster" {"csv"}, "settings" {"toml"}, ...
        self.metadata = head.metadata
        #: What is broken before the first message.
        self.head_damage = head.damage
        #: Whether the file was never closed, or has lost its end.
        self.truncated = truncated
        #: What the latest pass met.
        self.report = ReadReport()
        self._head = head

    def packets(self) -> Iterator[Packet]:
        """Yield the feed's messages in the order in which they were recorded."""
        for batch in self.batches():
            yield from batch

    def batches(self, messages: int = _BATCH) -> Iterator[list[Packet]]:
        """Yield the same in lists of at least ``messages``, or fewer of some megabytes."""
        self.report = ReadReport()
        unpacker = _Unpacker(self.report, strict=self._head.strict)
        allowed = _STRICT if self._head.strict else _ANY
        batch: list[Packet] = []
        size = 0
        with self.path.open("rb", buffering=_BUFFER) as file:
            for record in read_records(file, self._head.length, allowed):
                self.report.offset = record.offset
                if isinstance(record, Damage):
                    self.report.damage.append(record)
                    continue
                try:
                    unpacker.take(record, batch)
                    size += len(record.body)
                except BrokenRecordError as error:
                    length = RECORD_HEAD.size + len(record.body)
                    self.report.damage.append(Damage(record.offset, length, str(error)))
                if len(batch) >= messages or (batch and size >= _BATCH_BYTES):
                    self.report.messages += len(batch)
                    yield batch
                    batch, size = [], 0
        self.report.messages += len(batch)
        if batch:
            yield batch


def read_recording(path: Path) -> Recording:
    """Open a recording; raise :class:`stream.recording.head.RecordingError`."""
    try:
        with path.open("rb") as file:
            head = read_head(file, path.name)
            truncated = not _is_closed(file)
    except OSError as error:
        raise RecordingError(f"{path}: {error.strerror}") from None
    return Recording(path, head, truncated)


def _is_closed(file: BinaryIO) -> bool:
    size = file.seek(0, 2)
    length = len(_FOOTER) + 20 + len(MAGIC)
    if size < length:
        return False
    file.seek(size - length)
    end = file.read(length)
    return end.startswith(_FOOTER) and end.endswith(MAGIC)


class _Unpacker:
    """Turns outer records into packets."""

    def __init__(self, report: ReadReport, *, strict: bool) -> None:
        self._report = report
        self._strict = strict
        self._topics = Topics()
        self._loose_topics = Topics()
        self._expected = 0
        self._zstd = zstandard.ZstdDecompressor()

    def take(self, record: Record, batch: list[Packet]) -> None:
        """Append the messages of one record to ``batch``; raise :class:`BrokenRecordError`."""
        if record.opcode == Opcode.CHUNK:
            plain, checked = self._unpack(record.body)
            before = len(batch)
            self._messages(plain, self._topics, batch)
            if not checked:
                self._report.unchecked += len(batch) - before
        elif record.opcode in (Opcode.CHANNEL, Opcode.MESSAGE):
            whole = RECORD_HEAD.pack(record.opcode, len(record.body)) + record.body
            before = len(batch)
            self._messages(whole, self._loose_topics, batch)
            self._report.unchecked += len(batch) - before

    def _unpack(self, body: bytes) -> tuple[bytes, bool]:
        """Return a chunk's records, and whether a checksum vouches for them."""
        _, _, size, crc, name_length = _CHUNK.unpack_from(body)
        data_at = _CHUNK.size + name_length + _LENGTH_BYTES
        name, data = body[_CHUNK.size : _CHUNK.size + name_length], memoryview(body)[data_at:]
        if size > MAX_RECORD_BYTES:
            raise BrokenRecordError("a chunk whose sizes contradict each other")
        plain = self._decompress(name, data, size)
        if crc == 0 and not self._strict:
            return plain, False
        if len(plain) != size or crc32(plain) != crc:
            raise BrokenRecordError("a chunk whose checksum is wrong")
        return plain, True

    def _decompress(self, name: bytes, data: memoryview, size: int) -> bytes:
        if name == b"":
            return bytes(data)
        if name != b"zstd":
            raise BrokenRecordError(
                f"a chunk compressed as {name[:20]!r}, which this program does not read"
            )
        try:
            # The frame's own size is looked at first: a lie must not cost memory.
            if zstandard.frame_content_size(data) not in (size, -1):
                raise BrokenRecordError("a chunk whose sizes contradict each other")
            return self._zstd.decompress(data, max_output_size=size)
        except zstandard.ZstdError:
            raise BrokenRecordError("a chunk that cannot be decompressed") from None

    def _messages(self, data: bytes, topics: Topics, batch: list[Packet]) -> None:
        """The hot path: one turn a message."""
        at, end, view = 0, len(data), memoryview(data)
        names, unpack, append = topics.names, MESSAGE_HEAD.unpack_from, batch.append
        expected = self._expected
        try:
            while at < end:
                if data[at] == Opcode.MESSAGE:
                    _, length, channel, sequence, log_ns, _ = unpack(data, at)
                    begin, at = at + MESSAGE_HEAD.size, at + RECORD_HEAD.size + length
                    if not begin <= at <= end:
                        raise BrokenRecordError("a message longer than its chunk")
                    if sequence != expected:
                        self._skipped(sequence, expected)
                    expected = sequence + 1
                    topic = names.get(channel)
                    if topic is not None:
                        append(Packet(topic, view[begin:at], log_ns))
                    elif topics.is_hole(channel):
                        self._hole(data[begin:at])
                else:
                    opcode, length = RECORD_HEAD.unpack_from(data, at)
                    begin, at = at + RECORD_HEAD.size, at + RECORD_HEAD.size + length
                    if opcode == Opcode.CHANNEL and at <= end:
                        topics.learn(data[begin:at])
        except struct.error:
            raise BrokenRecordError("a record cut off within its chunk") from None
        finally:
            self._expected = expected & 0xFFFFFFFF

    def _skipped(self, sequence: int, expected: int) -> None:
        if not self._strict:
            return
        ahead = (sequence - expected) & 0xFFFFFFFF
        if ahead >= _HALF_THE_NUMBERS:
            raise BrokenRecordError("a chunk that stands in the wrong place")
        self._report.missing += ahead

    def _hole(self, payload: bytes) -> None:
        try:
            self._report.holes.append(msgspec.json.decode(payload, type=_HoleMark).hole())
        except (msgspec.MsgspecError, UnicodeDecodeError):
            raise BrokenRecordError(f"a mark on {HOLE_TOPIC} that cannot be read") from None


class _HoleMark(msgspec.Struct):
    v: int
    from_ns: int
    to_ns: int
    messages: int
    why: str

    def hole(self) -> Hole:
        return Hole(self.from_ns, self.to_ns, self.messages, self.why)
