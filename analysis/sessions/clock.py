"""When something was, by the clock of the computer that recorded it, without measuring again."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from stream.files import FileError
from stream.recording.reader import read_recording
from stream.wire import (
    DECODE_ERRORS,
    NS,
    ForceMessage,
    Packet,
    Payload,
    TopicKind,
    WireError,
    decode_force,
    topic,
)

#: A frame of one run of the device: (stream, fractional frame index).
Moment = tuple[str, float]

#: Before this no clock told the time of day: a recording made from a file begins at 0.
FIRST_DAY_NS = 946_684_800 * NS  # 2000-01-01 UTC


def day_of(at_ns: int | None) -> datetime | None:
    """Return the UTC time of ``at_ns``; None where it is not known or no time of day."""
    if at_ns is None or at_ns < FIRST_DAY_NS:
        return None
    return datetime.fromtimestamp(at_ns // 1000 / 1e6, UTC)


def first_message(recordings: Iterable[Path]) -> datetime | None:
    """Return when the first message of the first readable recording came; None: not known.

    One chunk is read, whatever the recording's length.
    """
    for path in recordings:
        with suppress(FileError, OSError):
            for batch in read_recording(path).batches(1):
                return day_of(batch[0].received_ns)
    return None


def host_times(
    recordings: Sequence[Path], source: str, moments: Sequence[Moment]
) -> tuple[int | None, ...]:
    """Return the host time (ns since 1970 UTC) of each of ``moments``, to some ms.

    It is that of the message which carries the frame; None where no readable
    message does, as of a recording that cannot be opened. Of the other
    messages only the head is looked at. ``moments`` stand in the order in
    which they were: a device that starts anew may carry a frame again under the
    same stream value, and then the time is the first that is not before the
    moment before.
    """
    wanted: dict[str, list[float]] = {}
    for stream, frame in set(moments):
        wanted.setdefault(stream, []).append(frame)
    for frames in wanted.values():
        frames.sort()
    force = topic(source, TopicKind.FORCE)
    found: dict[Moment, list[int]] = {}
    for path in recordings if wanted else ():
        with suppress(FileError, OSError):
            for packet in read_recording(path).packets():
                if packet.topic == force and _may_carry(packet.payload, wanted):
                    _take(packet, wanted, found)
    return _in_order(moments, found)


def _in_order(
    moments: Iterable[Moment], found: Mapping[Moment, list[int]]
) -> tuple[int | None, ...]:
    times: list[int | None] = []
    latest = 0
    for moment in moments:
        carried = found.get(moment, [])
        # Where the host's clock was set back none is later: the first message is nearer.
        at_ns = next((at for at in carried if at >= latest), carried[0] if carried else None)
        latest = latest if at_ns is None else at_ns
        times.append(at_ns)
    return tuple(times)


class _Head(msgspec.Struct):
    """What is looked at of a packed force message."""

    stream: str
    first_frame: int
    channels: int
    frames: msgspec.Raw


_head = msgspec.msgpack.Decoder(_Head)


def _may_carry(payload: Payload, wanted: dict[str, list[float]]) -> bool:
    if payload[:1] == b"{":
        return True  # JSON, which is rare: read in full
    try:
        head = _head.decode(payload)
    except DECODE_ERRORS:
        return False
    frames = wanted.get(head.stream, ())
    # Four bytes a reading, and the head of the bytes themselves: never too few frames.
    count = len(head.frames) / (4 * max(head.channels, 1))
    at = bisect_left(frames, head.first_frame)
    return at < len(frames) and frames[at] < head.first_frame + count


def _take(packet: Packet, wanted: dict[str, list[float]], found: dict[Moment, list[int]]) -> None:
    try:
        message = decode_force(packet.payload)
    except WireError:
        return
    frames = wanted.get(message.stream, [])
    for frame in frames[bisect_left(frames, message.first_frame) :]:
        if frame >= message.first_frame + len(message.samples):
            return
        at_ns = _host_ns(message, packet.received_ns, frame)
        found.setdefault((message.stream, frame), []).append(at_ns)


def _host_ns(message: ForceMessage, received_ns: int, frame: float) -> int:
    """A message is sent when its newest sample is there."""
    newest = message.first_frame + len(message.samples) - 1
    return received_ns - round((newest - frame) * NS / message.rate_hz)
