"""Invented feeds for the tests of recordings: every sample tells which frame it is."""

from __future__ import annotations

import numpy as np

from stream.wire import ForceMessage, Packet, decode_force, encode_force

EPOCH_NS = 1_700_000_000_000_000_000
FORCE = "moundfeed/mound-a/force"
CHANNELS = 4


def packet(index: int, frames: int = 2) -> Packet:
    """Message ``index`` of a feed at 200 Hz; sample = frame + channel / 8, exact in float32."""
    first = index * frames
    rows = np.arange(first, first + frames, dtype=np.float32)[:, None]
    samples = (rows + np.arange(CHANNELS, dtype=np.float32) / 8).astype(np.float32)
    t_ns = first * 5_000_000
    message = ForceMessage("mound-a", "run-1", first, t_ns, 200.0, samples)
    return Packet(FORCE, encode_force(message), EPOCH_NS + t_ns)


def packets(count: int, frames: int = 2) -> list[Packet]:
    return [packet(i, frames) for i in range(count)]


def assert_true_samples(got: list[Packet], sent: list[Packet]) -> None:
    """Every message read is one that was sent, byte for byte, in the order of sending."""
    places = {p: i for i, p in enumerate(sent)}
    indices = [places[p] for p in got]
    assert indices == sorted(set(indices))
    for p in got:
        message = decode_force(p.payload)
        first = message.first_frame
        assert (message.samples[:, 0] == np.arange(first, first + len(message.samples))).all()
