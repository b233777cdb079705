"""What the monitor and its viewers say to each other.

Three endpoints, each a ZeroMQ socket of the monitor:

view (XPUB), multipart:
  ``[b"now/<source>/", number, Snapshot]``        15 times a second, while somebody looks
  ``[b"told/<source>/", number, Told]``           what a viewer must not miss, numbered
  ``[b"alive", Alive]``                          four times a second
ask (ROUTER): ``[request id, Ask]`` -> ``[request id, CaughtUp, Told, Told, ...]``
operate (ROUTER): ``[request id, action]`` -> ``[request id, b"" or a sentence]``

All payloads are MessagePack, numbers big-endian unsigned 64-bit. ``Told`` is
numbered per mound; a viewer that sees a hole, or learns from ``Alive`` that
more was told than it heard, asks again from the last number that it has.
"""

from __future__ import annotations

from typing import Any, cast

import msgspec
import numpy as np

from stream.outputs import Array, NotCountedRecord, PitchRecord, Traces
from stream.snapshot import Sentence

NOW = b"now/"
TOLD = b"told/"
ALIVE = b"alive"
PICTURES_PER_S = 15.0
ALIVE_EVERY_S = 0.25
#: A monitor that has given no sign for so long is gone.
LOST_AFTER_S = 2.0


class PackedTraces(msgspec.Struct, frozen=True):
    """:class:`stream.outputs.Traces` for the way to a screen.

    ``columns`` holds (n, 11) float32, frame-major: time, drive xyz, lead xyz,
    both centres of pressure. Single precision is finer than any screen shows.
    """

    first_frame: int
    rate_hz: float
    columns: bytes


class ToldPitch(msgspec.Struct, frozen=True, tag="pitch"):
    """A pitch; ``traces`` is None where the monitor no longer keeps them, or nothing changed."""

    record: PitchRecord
    traces: PackedTraces | None = None


class ToldNotCounted(msgspec.Struct, frozen=True, tag="not_counted"):
    """A movement that was not counted."""

    record: NotCountedRecord


Told = ToldPitch | ToldNotCounted


class Alive(msgspec.Struct, frozen=True):
    """A sign of life: each mound with the number of things told, and the monitor's own words.

    ``run`` is another number each time a monitor starts, ``session`` the id of
    its session, empty where it has none (yet).
    """

    run: int
    told: dict[str, int]
    sentences: list[Sentence]
    stopping: bool = False
    session: str = ""


class Ask(msgspec.Struct, frozen=True):
    """A viewer wants everything of ``source`` that was told after number ``since``."""

    source: str
    since: int


class CaughtUp(msgspec.Struct, frozen=True):
    """The head of an answer: it brings the viewer up to number ``told``."""

    source: str
    told: int


def topic(kind: bytes, source: str) -> bytes:
    """Return the first part of a message about ``source``; no such topic begins another."""
    return kind + source.encode() + b"/"


def encode(message: Told | Alive | Ask | CaughtUp) -> bytes:
    """Return ``message`` as MessagePack."""
    return msgspec.msgpack.encode(message)


def decode(payload: bytes, kind: Any) -> Any:
    """Return the message of type ``kind``; raise msgspec.DecodeError for anything else."""
    try:
        return msgspec.msgpack.decode(payload, type=kind)
    except (UnicodeDecodeError, RecursionError) as error:
        raise msgspec.DecodeError(str(error)) from None


def pack_number(number: int) -> bytes:
    """Return ``number`` as eight bytes."""
    return number.to_bytes(8, "big")


def unpack_number(payload: bytes) -> int:
    """Return the number in ``payload``."""
    return int.from_bytes(payload, "big")


def pack_traces(traces: Traces) -> PackedTraces:
    """Return ``traces`` ready for the way to a screen."""
    columns = np.column_stack(
        [traces.time_s, traces.drive, traces.lead, traces.drive_cop, traces.lead_cop]
    )
    return PackedTraces(
        traces.first_frame, traces.rate_hz, np.ascontiguousarray(columns, dtype="<f4").tobytes()
    )


def unpack_traces(packed: PackedTraces) -> Traces:
    """Return the traces in ``packed``, read-only and not copied: a screen keeps many."""
    columns = cast(Array, np.frombuffer(packed.columns, dtype="<f4").reshape(-1, 11))
    return Traces(
        first_frame=packed.first_frame,
        rate_hz=packed.rate_hz,
        time_s=columns[:, 0],
        drive=columns[:, 1:4],
        lead=columns[:, 4:7],
        drive_cop=columns[:, 7:9],
        lead_cop=columns[:, 9:11],
    )
