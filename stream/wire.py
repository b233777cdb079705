"""Wire messages: decode, validate and encode what travels on the feed's topics.

Every payload is a MessagePack map or the same map as JSON (first byte ``{``).
Nothing here trusts the sender: a message that is malformed, of another
version, not finite or physically absurd raises :class:`WireError` with a
countable reason, so that bad input becomes a visible number and never a
made-up sample.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Annotated, Any, TypeAlias

import msgspec
import numpy as np
import numpy.typing as npt
from msgspec import Meta

#: Nanoseconds in a second: times on the wire are whole ns.
NS = 1_000_000_000
VERSION = 1
MAX_FRAMES = 2000
MAX_CHANNELS = 1024
#: Frame numbers up to here are exact as floats too: a million years at 200 Hz.
MAX_FRAME = 2**53
MAX_PAYLOAD_BYTES = 16 * 1024 * 1024
#: Channels times rate; a mound of 150 channels at 2 kHz has a third of it.
MAX_READINGS_PER_S = 1_000_000.0
#: Largest believable reading of one channel, N or N m (a truck, not a pitcher).
MAX_READING = 1e6
#: Half as fast again as any thrown ball on record (common practice, no source).
MAX_SPEED_MPS = 70.0
TOPIC_ROOT = "moundfeed"

_SOURCE = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")
#: A sum of squares below this clears every reading at once.
_SUM_OF_SQUARES_OF_NO_CONCERN = MAX_READING * MAX_READING

Samples = npt.NDArray[np.float32]
#: A message's bytes; a recording's are a view of its chunk, for most are looked at and not kept.
Payload: TypeAlias = bytes | memoryview
#: A clock in ns, 64 bits.
ClockNs = Annotated[int, Meta(ge=-(2**63), le=2**63 - 1)]


class TopicKind(StrEnum):
    """The last part of a topic name."""

    FORCE = "force"
    SPEED = "speed"
    PITCH = "pitch"
    EVENT = "event"
    HEALTH = "health"
    SESSION = "session"
    OPERATOR = "operator"


class Refusal(StrEnum):
    """Why a message was not taken."""

    UNREADABLE = "unreadable"
    WRONG_VERSION = "wrong_version"
    BAD_FIELD = "bad_field"
    WRONG_SOURCE = "wrong_source"
    WRONG_SHAPE = "wrong_shape"
    TOO_LARGE = "too_large"
    NOT_FINITE = "not_finite"
    OUT_OF_RANGE = "out_of_range"
    UNKNOWN_TOPIC = "unknown_topic"


#: What decoders raise for a payload that is none.
DECODE_ERRORS = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)


class WireError(ValueError):
    """A message that was refused; ``reason`` is what gets counted."""

    def __init__(self, reason: Refusal, detail: str) -> None:
        super().__init__(f"{reason.value}: {detail}")
        self.reason = reason
        self.detail = detail


class Packet(msgspec.Struct, frozen=True, gc=False):
    """One message as it came: topic, bytes, and the host's receive time in ns (Unix epoch)."""

    topic: str
    payload: Payload
    received_ns: int


class ForceMessage(msgspec.Struct, frozen=True):
    """One block of consecutive frames.

    ``samples`` is a read-only (n, channels) float32 array in the device's own
    channel units (N, N m); ``t_ns`` is the device clock at the first frame.
    """

    source: str
    stream: str
    first_frame: int
    t_ns: int
    rate_hz: float
    samples: Samples


class SpeedMessage(msgspec.Struct, frozen=True):
    """One ball speed in m/s, stamped with the device clock in ns."""

    source: str
    t_ns: int
    speed_mps: float


class PackedForce(msgspec.Struct, gc=False):
    """What a force message in MessagePack says, not judged yet."""

    v: int
    source: str
    stream: Annotated[str, Meta(min_length=1, max_length=64)]
    first_frame: Annotated[int, Meta(ge=0, le=MAX_FRAME)]
    t_ns: ClockNs
    rate_hz: Annotated[float, Meta(ge=1.0, le=100_000.0)]
    channels: Annotated[int, Meta(ge=1, le=MAX_CHANNELS)]
    frames: memoryview


class _Listed(msgspec.Struct):
    v: int
    source: str
    stream: Annotated[str, Meta(min_length=1, max_length=64)]
    first_frame: Annotated[int, Meta(ge=0, le=MAX_FRAME)]
    t_ns: ClockNs
    rate_hz: Annotated[float, Meta(ge=1.0, le=100_000.0)]
    channels: Annotated[int, Meta(ge=1, le=MAX_CHANNELS)]
    frames: list[list[float]]


class _Speed(msgspec.Struct):
    v: int
    source: str
    t_ns: ClockNs
    speed_mps: float


#: Reads what a force message in MessagePack says, unjudged.
packed_force = msgspec.msgpack.Decoder(PackedForce)
_listed = msgspec.json.Decoder(_Listed)
_speed_packed = msgspec.msgpack.Decoder(_Speed)
_speed_json = msgspec.json.Decoder(_Speed)
_packer = msgspec.msgpack.Encoder()


def topic(source: str, kind: TopicKind) -> str:
    """Return the topic of one kind of message of one mound."""
    return f"{TOPIC_ROOT}/{check_source(source)}/{kind.value}"


def parse_topic(name: str) -> tuple[str, TopicKind]:
    """Return (source, kind) of a topic name; raise :class:`WireError` for any other name."""
    root, _, rest = name.partition("/")
    source, _, kind = rest.partition("/")
    if root != TOPIC_ROOT or not _SOURCE.match(source):
        raise WireError(Refusal.UNKNOWN_TOPIC, repr(name[:80]))
    try:
        return source, TopicKind(kind)
    except ValueError:
        raise WireError(Refusal.UNKNOWN_TOPIC, repr(name[:80])) from None


def check_source(source: str) -> str:
    """Return ``source`` if it is a legal name of a mound, else raise :class:`WireError`."""
    if not _SOURCE.match(source):
        raise WireError(Refusal.BAD_FIELD, f"source {source[:80]!r} is not [A-Za-z0-9_-]{{1,64}}")
    return source


def decode_force(payload: Payload) -> ForceMessage:
    """Return the validated force message in ``payload``; raise :class:`WireError`."""
    if len(payload) > MAX_PAYLOAD_BYTES:
        raise WireError(Refusal.TOO_LARGE, f"{len(payload)} bytes")
    head: PackedForce | _Listed
    if payload[:1] == b"{":
        listed: _Listed = _read(_listed, payload)
        head, flat = listed, _from_lists(listed)
    else:
        packed: PackedForce = _read(packed_force, payload)
        head, flat = packed, _from_bytes(packed)
    if head.v != VERSION:
        raise WireError(Refusal.WRONG_VERSION, f"version {head.v}, this program reads {VERSION}")
    check_source(head.source)
    if head.channels * head.rate_hz > MAX_READINGS_PER_S:
        raise WireError(
            Refusal.OUT_OF_RANGE, f"{head.channels} channels at {head.rate_hz:g} Hz are too many"
        )
    frames = flat.size // head.channels
    if not 1 <= frames <= MAX_FRAMES:
        raise WireError(Refusal.TOO_LARGE if frames else Refusal.WRONG_SHAPE, f"{frames} frames")
    if not are_of_no_concern(flat):
        _check_readings(flat)
    return ForceMessage(
        head.source,
        head.stream,
        head.first_frame,
        head.t_ns,
        head.rate_hz,
        flat.reshape(frames, head.channels),
    )


def are_of_no_concern(readings: Samples) -> bool:
    """Whether one product clears all ``readings`` (n,); only unusual ones need a closer look."""
    # vdot and not dot: it warns of nothing, and to forbid warnings costs more than the product.
    return bool(np.vdot(readings, readings) < _SUM_OF_SQUARES_OF_NO_CONCERN)


def encode_force(message: ForceMessage) -> bytes:
    """Return ``message`` as a MessagePack payload."""
    samples = np.ascontiguousarray(message.samples, dtype="<f4")
    return _packer.encode(
        {
            "v": VERSION,
            "source": message.source,
            "stream": message.stream,
            "first_frame": message.first_frame,
            "t_ns": message.t_ns,
            "rate_hz": message.rate_hz,
            "channels": samples.shape[1],
            "frames": samples.tobytes(),
        }
    )


def decode_speed(payload: Payload) -> SpeedMessage:
    """Return the validated ball-speed message in ``payload``; raise :class:`WireError`."""
    if len(payload) > MAX_PAYLOAD_BYTES:
        raise WireError(Refusal.TOO_LARGE, f"{len(payload)} bytes")
    head = _read(_speed_json if payload[:1] == b"{" else _speed_packed, payload)
    if head.v != VERSION:
        raise WireError(Refusal.WRONG_VERSION, f"version {head.v}, this program reads {VERSION}")
    if not 0.0 < head.speed_mps <= MAX_SPEED_MPS:
        raise WireError(Refusal.OUT_OF_RANGE, f"ball speed {head.speed_mps} m/s")
    return SpeedMessage(check_source(head.source), head.t_ns, head.speed_mps)


def encode_speed(message: SpeedMessage) -> bytes:
    """Return ``message`` as a MessagePack payload."""
    return _packer.encode(
        {
            "v": VERSION,
            "source": message.source,
            "t_ns": message.t_ns,
            "speed_mps": message.speed_mps,
        }
    )


def refusal_of(error: Exception) -> WireError:
    """Return the refusal of a payload that a decoder gave up with one of ``DECODE_ERRORS``."""
    said = str(error)[:200]
    if isinstance(error, msgspec.ValidationError):
        return WireError(Refusal.BAD_FIELD, f"something in it is missing or cannot be so ({said})")
    return WireError(Refusal.UNREADABLE, f"it is broken, or no message at all ({said})")


def _read(decoder: Any, payload: Payload) -> Any:
    try:
        return decoder.decode(payload)
    except DECODE_ERRORS as error:
        raise refusal_of(error) from None


def _from_bytes(head: PackedForce) -> Samples:
    if len(head.frames) % (4 * head.channels):
        raise WireError(
            Refusal.WRONG_SHAPE,
            f"{len(head.frames)} bytes are not whole frames of {head.channels} channels",
        )
    return np.frombuffer(head.frames, dtype="<f4")


def _from_lists(head: _Listed) -> Samples:
    if len(head.frames) > MAX_FRAMES:
        raise WireError(Refusal.TOO_LARGE, f"{len(head.frames)} frames")
    if any(len(frame) != head.channels for frame in head.frames):
        raise WireError(Refusal.WRONG_SHAPE, f"a frame is not {head.channels} channels long")
    with np.errstate(over="ignore"):
        flat = np.array(head.frames, dtype=np.float64).astype(np.float32).ravel()
    flat.flags.writeable = False
    return flat


def _check_readings(flat: Samples) -> None:
    if not np.isfinite(flat).all():
        raise WireError(Refusal.NOT_FINITE, "a reading is NaN or infinite")
    if np.abs(flat).max() > MAX_READING:
        raise WireError(Refusal.OUT_OF_RANGE, f"a reading is beyond {MAX_READING:g}")
