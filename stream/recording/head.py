"""A recording's beginning: what it says of itself before the first message."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from io import BytesIO
from typing import BinaryIO

from mcap.data_stream import ReadDataStream
from mcap.exceptions import McapError
from mcap.opcode import Opcode
from mcap.records import Channel, Header, Metadata

from stream.files import FileError
from stream.recording.container import HOLE_TOPIC, MAGIC, PROFILE, SEAL, checksum
from stream.recording.records import RECORD_HEAD, Damage, Record, read_records
from stream.wire import WireError, parse_topic

#: What metadata of another program may say without a checksum.
_UNSEALED = {"layout": {"toml"}, "roster": {"csv"}, "settings": {"toml"}}
_IN_HEAD = frozenset({Opcode.HEADER, Opcode.METADATA, Opcode.CHUNK, Opcode.DATA_END})
_PARSE_ERRORS = (McapError, struct.error, ValueError, OverflowError, MemoryError)


class RecordingError(FileError):
    """A file that is no recording, or cannot be opened; the text says why."""


@dataclass
class Head:
    """What stands before the first message; ``length`` is where the messages begin.

    ``strict``: a recording of ours, in which nothing goes without a checksum.
    """

    strict: bool
    length: int
    metadata: dict[str, dict[str, str]] = field(default_factory=dict)
    damage: list[Damage] = field(default_factory=list)


def read_head(file: BinaryIO, name: str) -> Head:
    """Read the head of ``file``; raise :class:`RecordingError`."""
    begin = file.read(len(MAGIC) + 64)
    if not begin:
        raise RecordingError(f"{name} is empty")
    head = Head(strict=True, length=len(MAGIC))
    if not begin.startswith(MAGIC) and not MAGIC.startswith(begin):
        if PROFILE.encode() not in begin:
            raise RecordingError(f"{name} is not a recording (an MCAP file)")
        head.damage.append(Damage(0, len(MAGIC), "the file's first bytes are wrong"))
    for record in read_records(file, len(MAGIC), _IN_HEAD):
        if isinstance(record, Damage):
            if not head.strict:
                break  # another program's file: its messages begin here
            head.damage.append(record)
            head.length = record.offset + record.length
            continue
        if record.opcode not in (Opcode.HEADER, Opcode.METADATA):
            break
        head.length = record.offset + RECORD_HEAD.size + len(record.body)
        _take(head, record)
    return head


def _take(head: Head, record: Record) -> None:
    stream = ReadDataStream(BytesIO(record.body))
    try:
        if record.opcode == Opcode.HEADER:
            head.strict = Header.read(stream).profile == PROFILE
            return
        content = Metadata.read(stream)
    except _PARSE_ERRORS:
        _blame(head, record, "a record that cannot be read")
        return
    plain = {k: v for k, v in content.metadata.items() if k != SEAL}
    if SEAL in content.metadata:
        good = content.metadata[SEAL] == checksum(content.name, plain)
    else:
        good = not head.strict and set(plain) == _UNSEALED.get(content.name)
    if good:
        head.metadata[content.name] = plain
    else:
        _blame(head, record, "metadata whose checksum is wrong")


def _blame(head: Head, record: Record, what: str) -> None:
    head.damage.append(Damage(record.offset, RECORD_HEAD.size + len(record.body), what))


class Topics:
    """The topics that a file's channels stand for."""

    def __init__(self) -> None:
        self.names: dict[int, str] = {}
        self._holes: set[int] = set()
        self._seen: set[bytes] = set()

    def learn(self, body: bytes) -> None:
        """Take a channel record; one of a topic that is not the feed's is passed over."""
        if body in self._seen:
            return
        self._seen.add(body)
        try:
            channel = Channel.read(ReadDataStream(BytesIO(body)))
        except _PARSE_ERRORS:
            return
        self.names.pop(channel.id, None)
        self._holes.discard(channel.id)
        if channel.topic == HOLE_TOPIC:
            self._holes.add(channel.id)
            return
        try:
            parse_topic(channel.topic)
        except WireError:
            return
        self.names[channel.id] = channel.topic

    def is_hole(self, channel: int) -> bool:
        """Whether a channel carries the marks of holes."""
        return channel in self._holes
