"""The feed in steps of 50 ms: what the slow decisions are taken from.

Rows lie on the device's own frame count, so that they are the same however
the stream was cut into messages.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from stream.layout import Array

ROW_S = 0.050


class Row(NamedTuple):
    """One step: [start, end) frames; loads in N before the zero is taken out.

    ``drive``, ``lead`` mean vertical force of each side of the deck,
    ``lead_low``/``lead_high`` its extremes, ``braking`` mean forward force on
    the lead side, ``spread`` SD of the whole deck's vertical force inside the
    step; ``forward``, ``sideways`` the whole deck's mean Fx and Fy. All NaN if a frame is missing.
    """

    start: int
    end: int
    drive: float
    lead: float
    lead_low: float
    lead_high: float
    forward: float
    sideways: float
    braking: float
    spread: float


def frames_per_row(rate_hz: float) -> int:
    """Return how many frames make a row at this rate."""
    return max(1, round(ROW_S * rate_hz))


def rows_of(online: Array, first_frame: int, length: int) -> list[Row]:
    """Cut ``online`` (k * length, 5) of the feet model's online rows into k rows."""
    count = len(online) // length
    columns = np.ascontiguousarray(online.T).reshape(5, count, length)
    drive, lead, forward, sideways, braking = columns
    whole = drive + lead
    starts = range(first_frame, first_frame + count * length, length)
    return [
        Row(start, start + length, *values)
        for start, *values in zip(
            starts,
            drive.mean(axis=1).tolist(),
            lead.mean(axis=1).tolist(),
            lead.min(axis=1).tolist(),
            lead.max(axis=1).tolist(),
            forward.mean(axis=1).tolist(),
            sideways.mean(axis=1).tolist(),
            braking.mean(axis=1).tolist(),
            whole.std(axis=1).tolist(),
            strict=True,
        )
    ]
