"""How messages lie in a recording: an MCAP file, made for being cut off anywhere.

MCAP is an open container format (magic, records of opcode + length + body;
messages gathered in compressed, checksummed chunks; a summary at the end).
The records come from the ``mcap`` library; only the most frequent one, the
message, is packed here. The library's own ``Writer`` is not used because it
keeps an object a chunk in memory until the end, which at two chunks a second
is 150 MB a day, and because it loses what was not written when a write fails.

Each chunk names the channels it uses, so that it can be read though all
others are lost; each metadata record carries a checksum of its own.
"""

from __future__ import annotations

import json
import struct
import zlib
from array import array
from collections.abc import Iterator, Mapping
from typing import NamedTuple

import zstandard
from mcap.data_stream import RecordBuilder
from mcap.opcode import Opcode
from mcap.records import (
    Channel,
    Chunk,
    ChunkIndex,
    DataEnd,
    Footer,
    Header,
    McapRecord,
    Metadata,
    MetadataIndex,
    Statistics,
)

from stream import __version__
from stream.wire import TOPIC_ROOT, Payload

MAGIC = b"\x89MCAP0\r\n"
PROFILE = "moundfeed"
LIBRARY = f"moundfeed {__version__}"
#: Topic of the marks that say where the recording is incomplete. Not a feed's topic.
HOLE_TOPIC = "recording/hole"
SEAL = "crc32"
COMPRESSION = "zstd"
#: opcode, length, channel, sequence, log time, publish time
MESSAGE_HEAD = struct.Struct("<BQHIQQ")
MAX_TOPICS = 4096
_U64 = 2**64 - 1
_INDEX_COLUMNS = 6

MetadataMaps = Mapping[str, Mapping[str, str]]


class Hole(NamedTuple):
    """Messages that the recording had to leave out, between two host times in ns."""

    from_ns: int
    to_ns: int
    messages: int
    why: str

    def encode(self) -> bytes:
        """Return the mark as JSON."""
        return json.dumps({"v": 1, **self._asdict()}).encode()


def seal(name: str, content: Mapping[str, str]) -> dict[str, str]:
    """Return a metadata map with a checksum over its name, keys and values."""
    plain = {str(k): str(v) for k, v in content.items() if k != SEAL}
    return {**plain, SEAL: checksum(name, plain)}


def checksum(name: str, content: Mapping[str, str]) -> str:
    """Return the CRC-32 of a metadata record, eight hexadecimal digits."""
    text = json.dumps([name, sorted(content.items())], ensure_ascii=True)
    return f"{zlib.crc32(text.encode()):08x}"


class Container:
    """Turns messages into the bytes of an MCAP file.

    The bytes that :meth:`head`, :meth:`chunk` and :meth:`tail` return must
    all reach the file, in order: the index counts on it. Memory grows by 48
    bytes a chunk, for the index at the end.
    """

    def __init__(self) -> None:
        self._offset = 0
        self._data_crc = 0
        self._sequence = 0
        self._channels: dict[str, Channel] = {}
        self._named: dict[int, bytes] = {}
        self._counts: dict[int, int] = {}
        self._used: dict[int, None] = {}
        self._messages: list[Payload] = []
        self._metadata_index: list[MetadataIndex] = []
        self._chunk_index = array("Q")
        self._first_ns = self._last_ns = 0
        self._compressor = zstandard.ZstdCompressor()
        self.open_bytes = 0

    def head(self, metadata: MetadataMaps) -> bytes:
        """Return the file's beginning: magic, header and one sealed metadata record a name."""
        parts = [MAGIC, _record(Header(PROFILE, LIBRARY))]
        at = sum(map(len, parts))
        for name, content in metadata.items():
            record = _record(Metadata(name=name, metadata=seal(name, content)))
            self._metadata_index.append(MetadataIndex(offset=at, length=len(record), name=name))
            parts.append(record)
            at += len(record)
        return self._emit(b"".join(parts))

    def add(self, topic: str, payload: Payload, log_ns: int, publish_ns: int) -> None:
        """Put one message into the open chunk. Times are ns since the Unix epoch."""
        channel = self._channels.get(topic) or self._new_channel(topic, payload)
        log_ns, publish_ns = _clamp(log_ns), _clamp(publish_ns)
        head = MESSAGE_HEAD.pack(
            Opcode.MESSAGE, 22 + len(payload), channel.id, self._sequence, log_ns, publish_ns
        )
        self._sequence = (self._sequence + 1) & 0xFFFFFFFF
        if not self._messages:
            self._first_ns = self._last_ns = log_ns
        self._first_ns = min(self._first_ns, log_ns)
        self._last_ns = max(self._last_ns, log_ns)
        self._messages += (head, payload)
        self._used[channel.id] = None
        self._counts[channel.id] = self._counts.get(channel.id, 0) + 1
        self.open_bytes += len(head) + len(payload)

    def chunk(self) -> bytes:
        """Finish the open chunk and return its bytes; nothing where it is empty."""
        if not self._messages:
            return b""
        plain = b"".join([*(self._named[i] for i in self._used), *self._messages])
        packed = self._compressor.compress(plain)
        record = _record(
            Chunk(
                compression=COMPRESSION,
                data=packed,
                message_start_time=self._first_ns,
                message_end_time=self._last_ns,
                uncompressed_crc=zlib.crc32(plain),
                uncompressed_size=len(plain),
            )
        )
        self._chunk_index.extend(
            (self._first_ns, self._last_ns, self._offset, len(record), len(packed), len(plain))
        )
        self._messages, self._used, self.open_bytes = [], {}, 0
        return self._emit(record)

    def tail(self) -> bytes:
        """Return the file's end: summary with index and counts, footer, magic."""
        parts = [_record(DataEnd(self._data_crc))]
        summary_start = self._offset + len(parts[0])
        summary = b"".join(map(_record, self._summary()))
        footer = _record(Footer(summary_start, 0, 0))
        # The footer's own checksum covers the summary and the footer up to itself.
        crc = zlib.crc32(footer[:-4], zlib.crc32(summary))
        return b"".join([*parts, summary, footer[:-4], struct.pack("<I", crc), MAGIC])

    def _summary(self) -> Iterator[McapRecord]:
        yield from self._channels.values()
        rows = len(self._chunk_index) // _INDEX_COLUMNS
        starts = self._chunk_index[0::_INDEX_COLUMNS]
        ends = self._chunk_index[1::_INDEX_COLUMNS]
        yield Statistics(
            attachment_count=0,
            channel_count=len(self._channels),
            channel_message_counts=self._counts,
            chunk_count=rows,
            message_count=sum(self._counts.values()),
            metadata_count=len(self._metadata_index),
            message_start_time=min(starts, default=0),
            message_end_time=max(ends, default=0),
            schema_count=0,
        )
        for row in range(rows):
            first, last, offset, length, packed, plain = self._chunk_index[
                row * _INDEX_COLUMNS : (row + 1) * _INDEX_COLUMNS
            ]
            yield ChunkIndex(
                message_start_time=first,
                message_end_time=last,
                chunk_start_offset=offset,
                chunk_length=length,
                message_index_offsets={},
                message_index_length=0,
                compression=COMPRESSION,
                compressed_size=packed,
                uncompressed_size=plain,
            )
        yield from self._metadata_index

    def _new_channel(self, topic: str, payload: Payload) -> Channel:
        packed = topic.startswith(TOPIC_ROOT) and payload[:1] != b"{"
        channel = Channel(
            id=len(self._channels) + 1,
            topic=topic,
            message_encoding="msgpack" if packed else "json",
            metadata={},
            schema_id=0,
        )
        self._channels[topic] = channel
        self._named[channel.id] = _record(channel)
        return channel

    def _emit(self, data: bytes) -> bytes:
        self._offset += len(data)
        self._data_crc = zlib.crc32(data, self._data_crc)
        return data


def _record(record: McapRecord) -> bytes:
    builder = RecordBuilder()
    record.write(builder)
    data: bytes = builder.end()  # type: ignore[no-untyped-call]  # the library leaves it untyped
    return data


def _clamp(time_ns: int) -> int:
    """The container's times are unsigned; an absurd clock must not stop the recording."""
    return min(max(time_ns, 0), _U64)
