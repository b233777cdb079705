"""The feet model's online rows, frame by frame, as a feed comes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stream.feet import Channels
from stream.layout import Array
from stream.wire import Samples


class OnlineLoads:
    """``rows`` (6, channels) applied to frames; each row reads one of ``sides`` and no other."""

    def __init__(self, rows: Array, sides: Sequence[Channels]) -> None:
        self._width = len(rows)
        # A row without any weight is the first side's: it too is NaN where a frame is missing.
        read = np.array([[row[side].any() for side in sides] for row in rows]).argmax(axis=1)
        self._parts = [
            (of_side, side, np.ascontiguousarray(rows[of_side][:, side]))
            for number, side in enumerate(sides)
            if len(of_side := np.flatnonzero(read == number))
        ]

    def of(self, samples: Samples) -> Array:
        """Return the loads of ``samples`` (n, channels), raw, (n, 6) N.

        To the last bit the same however many frames are given: every sum runs
        over the channels in their order, for all frames at once. That is why
        it is no matrix product, and why a single frame, whose sum would be
        taken in another order, is given twice.
        """
        several = samples if len(samples) > 1 else np.repeat(samples, 2, axis=0)
        loads = np.empty((len(several), self._width))
        for of_side, side, weights in self._parts:
            by_channel = np.ascontiguousarray(several[:, side].T, dtype=np.float64)
            loads[:, of_side] = np.einsum("cf,rc->fr", by_channel, weights)
        return loads[: len(samples)]
