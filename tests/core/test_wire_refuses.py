"""Bad messages are refused by reason, counted, and never become samples."""

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.files import load_layout
from stream.pipeline import Pipeline
from stream.wire import (
    ForceMessage,
    Packet,
    Refusal,
    WireError,
    decode_force,
    encode_force,
)
from tests.core.mounds import SOURCE, force_packet

GOOD = {
    "v": 1,
    "source": SOURCE,
    "stream": "s",
    "first_frame": 0,
    "t_ns": 0,
    "rate_hz": 200.0,
    "channels": 2,
    "frames": [[1.0, 2.0]],
}


def changed(**fields: object) -> bytes:
    return msgspec.json.encode({**GOOD, **fields})


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", Refusal.UNREADABLE),
        (b"{", Refusal.UNREADABLE),
        (b"\xc1", Refusal.UNREADABLE),
        (changed(v=2), Refusal.WRONG_VERSION),
        (changed(source="a/b"), Refusal.BAD_FIELD),
        (changed(first_frame=-1), Refusal.BAD_FIELD),
        (changed(channels=3), Refusal.WRONG_SHAPE),
        (changed(frames=[]), Refusal.WRONG_SHAPE),
        (changed(frames=[[1.0, 2.0]] * 2001), Refusal.TOO_LARGE),
        (changed(frames=[[1.0, 1e39]]), Refusal.NOT_FINITE),
        (changed(frames=[[1.0, 2e6]]), Refusal.OUT_OF_RANGE),
    ],
)
def test_refused_by_reason(payload: bytes, reason: Refusal) -> None:
    with pytest.raises(WireError) as refused:
        decode_force(payload)
    assert refused.value.reason is reason


def test_json_and_messagepack_say_the_same() -> None:
    listed = decode_force(changed())
    packed = decode_force(encode_force(listed))
    assert np.array_equal(listed.samples, packed.samples)
    assert (listed.stream, listed.first_frame) == (packed.stream, packed.first_frame)


def test_nan_is_a_counted_refusal_and_a_gap() -> None:
    core = Pipeline(SOURCE, load_layout("two-plates"))
    good = np.zeros((50, 12), np.float32)
    bad = good.copy()
    bad[3, 3] = np.nan
    core.receive(force_packet(0, good))
    core.receive(force_packet(50, bad))
    core.receive(force_packet(100, good))
    now = core.snapshot(0)
    assert now.feed.rejected == {"not_finite": 1}
    assert (now.feed.frames, now.feed.lost_frames) == (100, 50)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("reading", [np.nan, np.inf, -np.inf, 1e30, 2e6])
def test_a_reading_that_cannot_be_is_refused_without_a_warning(reading: float) -> None:
    core = Pipeline(SOURCE, load_layout("two-plates"))
    blocks = np.ones((3, 40, 12), np.float32)
    blocks[1, 20, 5] = reading
    core.receive_many([force_packet(40 * number, block) for number, block in enumerate(blocks)])
    feed = core.snapshot(0).feed
    assert sum(feed.rejected.values()) == 1
    assert (feed.frames, feed.lost_frames) == (80, 40)


@given(st.binary(max_size=300))
def test_any_bytes_are_refused_or_read(payload: bytes) -> None:
    core = Pipeline(SOURCE, load_layout("two-plates"))
    core.receive(Packet(f"moundfeed/{SOURCE}/force", payload, 0))
    core.receive(Packet(f"moundfeed/{SOURCE}/operator", payload, 0))
    core.receive(Packet(f"moundfeed/{SOURCE}/speed", payload, 0))
    assert core.snapshot(0).feed.frames == 0


def test_a_message_of_another_mound_is_refused() -> None:
    core = Pipeline("other", load_layout("two-plates"))
    message = ForceMessage(SOURCE, "s", 0, 0, 200.0, np.zeros((4, 12), np.float32))
    core.receive(Packet("moundfeed/other/force", encode_force(message), 0))
    assert core.snapshot(0).feed.rejected == {"wrong_source": 1}
