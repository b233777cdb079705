"""The everyday case of a feed: messages that follow each other without a seam, as one block.

A replay has a thousand messages in hand, and one by one each of them costs
more than its frames do. Nothing is judged here: the first message that is not
in every respect as expected ends the block and is left to the careful way,
:func:`stream.wire.decode_force` and :mod:`stream.continuity`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from stream.wire import (
    DECODE_ERRORS,
    MAX_FRAMES,
    MAX_PAYLOAD_BYTES,
    MAX_READING,
    NS,
    VERSION,
    PackedForce,
    Packet,
    Samples,
    are_of_no_concern,
    packed_force,
)


class Expected(NamedTuple):
    """What the next message must say.

    ``clock`` is a frame and what the device's clock showed at it (ns);
    ``slack_ns`` is how far a message may be off it.
    """

    topic: str
    source: str
    stream: str
    first_frame: int
    rate_hz: float
    channels: int
    clock: tuple[int, int]
    slack_ns: int


class Joined(NamedTuple):
    """The frames of some messages, ``samples`` (n, channels), and the head of the ``last`` one.

    Per message ``received_ns`` is the host's clock and ``newest_ns`` the
    device's at its newest frame.
    """

    samples: Samples
    received_ns: list[int]
    newest_ns: list[int]
    last: PackedForce


def join(packets: Sequence[Packet], start: int, expected: Expected) -> Joined | None:
    """Join the messages from ``packets[start]`` on; None if that one is not as expected."""
    heads, newest_ns = _as_expected(packets, start, expected)
    flat = np.frombuffer(b"".join([head.frames for head in heads]), dtype="<f4")
    if not are_of_no_concern(flat):
        heads = heads[: _believable(flat, heads)]
        flat = flat[: sum(len(head.frames) for head in heads) // 4]
    if not heads:
        return None
    return Joined(
        flat.reshape(-1, expected.channels),
        [packet.received_ns for packet in packets[start : start + len(heads)]],
        newest_ns[: len(heads)],
        heads[-1],
    )


def _as_expected(
    packets: Sequence[Packet], start: int, expected: Expected
) -> tuple[list[PackedForce], list[int]]:
    """Return what the messages say, up to the first that is not as expected.

    With each message's newest frame by the device's clock, ns.
    """
    topic, source, stream, frame, rate_hz, channels, (at_frame, at_ns), slack_ns = expected
    ns_per_frame, frame_bytes = NS / rate_hz, 4 * channels
    decode, heads, newest_ns = packed_force.decode, list[PackedForce](), list[int]()
    size, frames, newest = -1, 0, 0
    with contextlib.suppress(*DECODE_ERRORS):
        for packet in packets[start:]:
            payload = packet.payload
            if packet.topic != topic or len(payload) > MAX_PAYLOAD_BYTES:
                break
            head = decode(payload)
            if len(head.frames) != size:  # most have as many as the one before
                size = len(head.frames)
                frames, rest = divmod(size, frame_bytes)
                if rest or not 0 < frames <= MAX_FRAMES:
                    break
                newest = round((frames - 1) * ns_per_frame)
            t_ns = head.t_ns
            if (
                head.first_frame != frame
                or head.stream != stream
                or head.source != source
                or head.channels != channels
                or head.rate_hz != rate_hz
                or head.v != VERSION
                or not -slack_ns <= t_ns - at_ns - (frame - at_frame) * ns_per_frame <= slack_ns
            ):
                break
            frame += frames
            heads.append(head)
            newest_ns.append(t_ns + newest)
    return heads, newest_ns


def _believable(flat: Samples, heads: Sequence[PackedForce]) -> int:
    """Return how many messages come before the first reading that cannot be."""
    absurd = np.flatnonzero(~(np.abs(flat) <= MAX_READING))
    if len(absurd) == 0:
        return len(heads)
    ends = np.cumsum([len(head.frames) // 4 for head in heads])
    return int(np.searchsorted(ends, absurd[0], side="right"))
