"""What must hold whatever comes in, judged without the product's own readers.

:func:`is_valid_force` reads a message by the published format alone, with the
general decoder of a MessagePack/JSON library and Python's own types. Frames
may only be counted for messages that it finds valid: a number from any other
message would be a made-up one.
"""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Iterable
from typing import Any

import msgspec

from stream.outputs import (
    FootContact,
    NotCounted,
    Output,
    Pitch,
    PitchChanged,
    PitchClosed,
    PitchRecord,
    record_json,
)
from stream.snapshot import Snapshot

_SOURCE = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")


class Broken(Exception):  # noqa: N818 - the finding of a fuzz run
    """Something that must hold does not."""


def is_valid_force(payload: bytes, source: str) -> bool:
    """Whether ``payload`` is a force message of ``source`` by the format's own words."""
    try:
        if payload[:1] == b"{":
            table = msgspec.json.decode(payload)
        else:
            table = msgspec.msgpack.decode(payload)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return False
    if not isinstance(table, dict) or len(payload) > 16 * 1024 * 1024:
        return False
    first: Any = table.get("first_frame")
    channels: Any = table.get("channels")
    t_ns: Any = table.get("t_ns")
    rate, stream = table.get("rate_hz"), table.get("stream")
    return (
        _whole(table.get("v"))
        and table["v"] == 1
        and table.get("source") == source
        and _SOURCE.match(source) is not None
        and isinstance(stream, str)
        and 1 <= len(stream) <= 64
        and _whole(first)
        and 0 <= first < 2**64
        and _whole(t_ns)
        and -(2**63) <= t_ns < 2**63
        and isinstance(rate, int | float)
        and not isinstance(rate, bool)
        and rate > 0
        and _whole(channels)
        and channels >= 1
        and _valid_readings(table.get("frames"), channels)
    )


def _whole(value: Any) -> bool:
    # A JSON or MessagePack writer may say 1.0 for 1.
    return (isinstance(value, int) and not isinstance(value, bool)) or (
        isinstance(value, float) and value.is_integer()
    )


def _valid_readings(frames: Any, channels: int) -> bool:
    if isinstance(frames, bytes):
        count, rest = divmod(len(frames), 4 * int(channels))
        values: Iterable[float] = struct.unpack(f"<{len(frames) // 4}f", frames) if not rest else ()
        if rest:
            return False
    elif isinstance(frames, list):
        if not all(isinstance(row, list) and len(row) == channels for row in frames):
            return False
        flat = [value for row in frames for value in row]
        if not all(isinstance(v, int | float) and not isinstance(v, bool) for v in flat):
            return False
        count, values = len(frames), flat
    elif isinstance(frames, str):  # JSON's way to carry bytes is base64; the format has lists
        return False
    else:
        return False
    return 1 <= count <= 2000 and all(math.isfinite(v) and abs(v) <= 1.001e6 for v in values)


def check_outputs(outputs: Iterable[Output]) -> int:
    """Raise :class:`Broken` if anything told is no number; return how many pitches were told."""
    told = 0
    for output in outputs:
        match output:
            case Pitch(record=record) | PitchChanged(record=record) | PitchClosed(record=record):
                told += isinstance(output, Pitch)
                _check_record(record)
            case NotCounted(record=record):
                _finite(record.frame, "a movement's frame")
            case FootContact():
                _finite(output.frame, "a contact's frame")
                _finite(output.body_weight_n, "a contact's body weight")
            case _:
                pass
    return told


def _check_record(record: PitchRecord) -> None:
    numbers = {**record.metrics, **record.events_s, "weight": record.body_weight_n}
    numbers |= {"frame": record.foot_contact_frame, "speed": record.speed_mps}
    for name, value in numbers.items():
        _finite(value, name)
    if any(value is None for value in record.metrics.values()) and not record.flags:
        raise Broken(f"pitch {record.number} lacks a value and does not say why")
    record_json(record)


def check_snapshot(snapshot: Snapshot) -> None:
    """Raise :class:`Broken` if a number that is shown is none (the strip may have holes)."""
    for load in snapshot.platforms:
        for value in (load.fx, load.fy, load.fz, load.cop_x, load.cop_y):
            _finite(value, f"platform {load.name}")
    for value in (snapshot.body_weight_n, snapshot.feed.rate_hz, snapshot.feed.latency_ms):
        _finite(value, "the picture")


def _finite(value: float | None, what: str) -> None:
    if value is not None and not math.isfinite(value):
        raise Broken(f"{what} is {value}")
