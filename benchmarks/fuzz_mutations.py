"""Ways in which messages and files go bad: of the shape of a message, and of bare bytes."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable, Sequence
from typing import Any

import msgspec

Mutation = Callable[[random.Random, bytes], bytes]

#: Values that break readers: ends of ranges, no numbers, other types.
ODD: tuple[Any, ...] = (
    0, 1, -1, 2, 255, 2**31, 2**32 - 1, 2**53, 2**63 - 1, -(2**63), 2**64 - 1, 1.5, -0.0, 1e-300,
    1e300, float("nan"), float("inf"), float("-inf"), "", "x" * 65, "../..", "mound-b", "mound-a",
    "\x00", "\u202e", "=1+1", None, True, False, b"", b"\xff" * 7, [], [[]], [[1.0] * 12], {},
    {"v": 1}, 200.0, 100.0, 400.0, 1.0, 50.0, 99_999.0, 10**18,
)  # fmt: skip
_FLOATS = (
    float("nan"), float("inf"), float("-inf"), 1e6, -1e6, 1.0000001e6, 3e38, -3e38, 1e-40, 0.0,
    5000.0, -5000.0,
)  # fmt: skip


def fields(rng: random.Random, payload: bytes) -> bytes:
    """Give a field another value, take one away, or add one."""
    table = _table(payload)
    if not table:
        return bits(rng, payload)
    key = rng.choice(sorted(table))
    match rng.randrange(6):
        case 0:
            del table[key]
        case 1:
            table[rng.choice(("w", "frames", "", "v"))] = rng.choice(ODD)
        case 2 if isinstance(table[key], int) and not isinstance(table[key], bool):
            table[key] += rng.choice((-(2**40), -2000, -4, -1, 1, 4, 12, 400, 2**40))
        case _:
            table[key] = rng.choice(ODD)
    return _packed(table, as_json=payload[:1] == b"{" or rng.random() < 0.1)


def readings(rng: random.Random, payload: bytes) -> bytes:
    """Put odd numbers among the readings."""
    table = _table(payload)
    frames = table.get("frames") if table else None
    if not isinstance(frames, bytes) or len(frames) < 4:
        return bits(rng, payload)
    samples = bytearray(frames)
    for _ in range(rng.choice((1, 1, 3, 48))):
        at = 4 * rng.randrange(len(samples) // 4)
        struct.pack_into("<f", samples, at, rng.choice(_FLOATS))
    return _packed({**table, "frames": bytes(samples)}, as_json=False)


def sizes(rng: random.Random, payload: bytes) -> bytes:
    """Make the block of another size than it says, or of an enormous one."""
    table = _table(payload)
    frames = table.get("frames") if table else None
    if not isinstance(frames, bytes):
        return bits(rng, payload)
    match rng.randrange(4):
        case 0:
            frames = frames[: rng.randrange(len(frames) + 1)]
        case 1:
            frames = frames * rng.choice((0, 2, 3, 500, 501))
        case 2:
            frames = frames + b"\x00" * rng.choice((1, 4, 48, 4800))
        case _:
            table = {**table, "channels": rng.choice((1, 2, 3, 4, 6, 11, 13, 24, 48, 1024))}
    return _packed({**table, "frames": frames}, as_json=False)


def as_json(rng: random.Random, payload: bytes) -> bytes:
    """Say the same in JSON, readings as lists, sometimes with an odd one."""
    table = _table(payload)
    frames = table.get("frames") if table else None
    if not isinstance(frames, bytes) or len(frames) % 48:
        return bits(rng, payload)
    rows = [list(struct.unpack("<12f", frames[i : i + 48])) for i in range(0, len(frames), 48)]
    text = msgspec.json.encode({**table, "frames": rows})
    if rng.random() < 0.5:
        old = rng.choice((b"0.", b"1", b",", b"]", b"[", b"null", b'"'))
        new = rng.choice((b"1e400", b"NaN", b"[", b"]", b"", b"1e999", b"-", b"null", b"9" * 400))
        text = text.replace(old, new, 1)
    return text


def bits(rng: random.Random, payload: bytes) -> bytes:
    """Flip a few bits."""
    data = bytearray(payload or b"\x00")
    for _ in range(rng.choice((1, 1, 2, 8))):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(data)


def cut(rng: random.Random, payload: bytes) -> bytes:
    """Lose the end, the beginning, or the middle."""
    a, b = sorted(rng.randrange(len(payload) + 1) for _ in range(2))
    return rng.choice((payload[:a], payload[a:], payload[:a] + payload[b:]))


def grown(rng: random.Random, payload: bytes) -> bytes:
    """Repeat a part, or put junk in."""
    a, b = sorted(rng.randrange(len(payload) + 1) for _ in range(2))
    part = rng.choice((payload[a:b][:65_536], rng.randbytes(rng.randrange(64)), b"\x00" * 512))
    return payload[:a] + part * rng.choice((1, 2, 16)) + payload[a:]


def deep(rng: random.Random, payload: bytes) -> bytes:
    """Nest without end."""
    depth = rng.choice((64, 1024, 20_000))
    return rng.choice(
        (
            b"\x82\xa1v\x01\xa1w" + b"\x91" * depth + b"\x01",
            b'{"v":1,"w":' + b"[" * depth + b"]" * depth + b"}",
            b"\x91" * depth,
            b"[" * depth,
        )
    )


def numbers(rng: random.Random, text: bytes) -> bytes:
    """Give a number in a text another value."""
    places = [i for i, byte in enumerate(text) if 48 <= byte <= 57]
    if not places:
        return bits(rng, text)
    at = rng.choice(places)
    end = at
    while end < len(text) and chr(text[end]) in "0123456789.e+-":
        end += 1
    new = rng.choice(
        (b"nan", b"inf", b"-inf", b"-1", b"0", b"1e308", b"1e-308", b"999999999999999999999",
         b"true", b'"x"', b"[]", b"1e400", b"0.5", b"1", b"-0.0", b"2", b"12", b"0x10")
    )  # fmt: skip
    return text[:at] + new + text[end:]


def lines(rng: random.Random, text: bytes) -> bytes:
    """Take away, repeat or exchange lines."""
    rows = text.split(b"\n")
    at = rng.randrange(len(rows))
    match rng.randrange(4):
        case 0:
            del rows[at]
        case 1:
            rows.insert(at, rng.choice(rows))
        case 2:
            other = rng.randrange(len(rows))
            rows[at], rows[other] = rows[other], rows[at]
        case _:
            rows[at] = rows[at][:2000] * rng.choice((2, 3000))
    return b"\n".join(rows)


OF_MESSAGES: Sequence[Mutation] = (
    fields, fields, fields, readings, readings, sizes, as_json, bits, cut, grown, deep,
)  # fmt: skip
OF_TEXTS: Sequence[Mutation] = (numbers, numbers, numbers, lines, lines, bits, cut, grown)
OF_BYTES: Sequence[Mutation] = (bits, bits, cut, grown)


def _table(payload: bytes) -> dict[str, Any]:
    try:
        if payload[:1] == b"{":
            table = msgspec.json.decode(payload)
        else:
            table = msgspec.msgpack.decode(payload)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return {}
    if not isinstance(table, dict) or not all(isinstance(key, str) for key in table):
        return {}
    return table


def _packed(table: dict[str, Any], *, as_json: bool) -> bytes:
    try:
        if as_json:
            return msgspec.json.encode(table)
        return msgspec.msgpack.encode(table)
    except (OverflowError, TypeError, ValueError, msgspec.MsgspecError):
        return repr(table).encode()
