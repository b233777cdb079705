"""The feed in steps of 50 ms: what the slow decisions are taken from.

Rows lie on the device's own frame count, so that they are the same however
the stream was cut into messages.
"""

from __future__ import annotations

import msgspec
import numpy as np

from stream.layout import Array

ROW_S = 0.050


class Row(msgspec.Struct, frozen=True, gc=False):
    """One step: [start, end) frames; loads in N as they came, before any zero is taken out.

    Means of the force on the drive and lead side of the deck; ``lead_low`` and
    ``lead_high`` the extremes of the lead side's vertical force;
    ``drive_noise``, ``lead_noise`` the SD of each side's mean vertical force, by
    the SD inside the step. All NaN if a frame is missing.
    """

    start: int
    end: int
    drive_z: float
    lead_z: float
    drive_x: float
    lead_x: float
    drive_y: float
    lead_y: float
    lead_low: float
    lead_high: float
    drive_noise: float
    lead_noise: float


def frames_per_row(rate_hz: float) -> int:
    """Return how many frames make a row at this rate."""
    return max(1, round(ROW_S * rate_hz))


def rows_of(online: Array, first_frame: int, length: int) -> list[Row]:
    """Cut ``online`` (k * length, 6) of the feet model's online rows into k rows."""
    count = len(online) // length
    # Frame by frame first, so that every sum runs over all rows at once and in the frames' order.
    frames = np.ascontiguousarray(online.reshape(count, length, 6).transpose(1, 2, 0))
    means = np.add.reduce(frames, axis=0) / length
    lead = frames[:, 1]
    extremes = np.minimum.reduce(lead, axis=0), np.maximum.reduce(lead, axis=0)
    off = frames[:, :2] - means[:2]
    noises = np.sqrt(np.add.reduce(off * off, axis=0)) / length
    values = np.concatenate([means, extremes, noises]).tolist()
    starts = range(first_frame, first_frame + count * length, length)
    ends = range(first_frame + length, first_frame + (count + 1) * length, length)
    return list(map(Row, starts, ends, *values))
