"""The outer records of an MCAP file, one after the other, whatever became of the bytes.

A record is an opcode (1 byte), a length (8 bytes) and a body. A file cut off
in mid recording ends in half a record; a file with a flipped bit may have a
length that points anywhere. What cannot be a record is reported, and the next
chunk is looked for by the bytes that every chunk of ours begins with.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO, NamedTuple

from mcap.opcode import Opcode

#: Largest record that is read; the writer stays under half of it.
MAX_RECORD_BYTES = 64 * 1024 * 1024
RECORD_HEAD = struct.Struct("<BQ")
#: Start and end time, uncompressed size and checksum, then the compression's name.
CHUNK_HEAD = struct.Struct("<QQQI")
_NAME = b"\x04\x00\x00\x00zstd"
_NAME_AT = RECORD_HEAD.size + CHUNK_HEAD.size
_CHUNK_FIXED = CHUNK_HEAD.size + len(_NAME) + 8
_LENGTH = struct.Struct("<Q")
_LENGTH_4 = struct.Struct("<I")
_BLOCK = 1024 * 1024


class Record(NamedTuple):
    """One outer record: where it begins in the file, what it is, its body."""

    offset: int
    opcode: int
    body: bytes


@dataclass(frozen=True, slots=True)
class Damage:
    """A stretch of the file that could not be used."""

    offset: int
    length: int
    what: str

    def __str__(self) -> str:
        return f"{self.length} bytes from byte {self.offset} on: {self.what}"


def read_records(file: BinaryIO, start: int, allowed: frozenset[int]) -> Iterator[Record | Damage]:
    """Yield the records from ``start`` to the end of the data, and what is broken between them.

    ``allowed`` are the opcodes that may stand here; any other byte is damage.
    The iterator ends with the record DATA_END or FOOTER, or with the file.
    """
    file.seek(start)
    at = start
    while head := file.read(RECORD_HEAD.size):
        body = None
        if len(head) == RECORD_HEAD.size:
            opcode, length = RECORD_HEAD.unpack(head)
            if opcode in allowed and length <= MAX_RECORD_BYTES:
                body = file.read(length)
                if len(body) < length:
                    body = None
        if body is None or not _adds_up(opcode, body):
            found = find_chunk(file, at + 1)
            end = file.seek(0, 2) if found is None else found
            what = "cut off" if found is None else "no record can be read here"
            yield Damage(at, end - at, what)
            if found is None:
                return
            at = file.seek(found)
            continue
        yield Record(at, opcode, body)
        if opcode in (Opcode.DATA_END, Opcode.FOOTER):
            return
        at += len(head) + len(body)


def _adds_up(opcode: int, body: bytes) -> bool:
    """Whether the lengths inside a record fill it: a record's own length may be wrong."""
    try:
        match opcode:
            case Opcode.CHUNK:
                (name,) = _LENGTH_4.unpack_from(body, CHUNK_HEAD.size)
                data_at = CHUNK_HEAD.size + _LENGTH_4.size + name
                (data,) = _LENGTH.unpack_from(body, data_at)
                return bool(data_at + _LENGTH.size + data == len(body))
            case Opcode.HEADER | Opcode.METADATA:
                (first,) = _LENGTH_4.unpack_from(body)
                (second,) = _LENGTH_4.unpack_from(body, _LENGTH_4.size + first)
                return bool(2 * _LENGTH_4.size + first + second == len(body))
            case Opcode.DATA_END:
                return len(body) == _LENGTH_4.size
            case _:
                return True
    except struct.error:
        return False


def find_chunk(file: BinaryIO, start: int) -> int | None:
    """Return where the next thing that looks like a chunk begins, from ``start`` on."""
    file.seek(start)
    base, window = start, b""
    while block := file.read(_BLOCK):
        window += block
        at = window.find(_NAME)
        while at >= 0:
            begin = at - _NAME_AT
            if begin >= 0 and _is_chunk(window, begin):
                return base + begin
            at = window.find(_NAME, at + 1)
        # Keep enough to see a chunk's beginning that lies across two blocks.
        keep = min(len(window), _NAME_AT + len(_NAME) + _LENGTH.size)
        base += len(window) - keep
        window = window[-keep:]
    return None


def _is_chunk(data: bytes, begin: int) -> bool:
    opcode, length = RECORD_HEAD.unpack_from(data, begin)
    size_at = begin + _NAME_AT + len(_NAME)
    if opcode != Opcode.CHUNK or size_at + _LENGTH.size > len(data):
        return False
    return bool(_LENGTH.unpack_from(data, size_at)[0] + _CHUNK_FIXED == length)
