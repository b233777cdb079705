"""The deck: from contacts to what the platforms of a layout would read.

Each contact's load is spread evenly over a rectangle about its centre of
pressure; a platform takes the part of the rectangle that lies on it, and what
lies beside the deck is not felt. Channels follow by inverting the platform's
own matrix; where that has no unique answer (a rigid deck on four cells is
statically indeterminate) the smallest channels that carry the load are taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulators.contacts import Contact
from simulators.curves import Array
from stream.layout import Layout, Platform


@dataclass(frozen=True, eq=False)
class _Part:
    """One platform: its bounds in the ground plane and its wrench-to-channels matrix."""

    platform: Platform
    low: Array
    high: Array
    to_channels: Array


class Plates:
    """The platforms of a layout, ready to be loaded."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._parts = [
            _Part(
                p,
                p.corners[:, :2].min(axis=0),
                p.corners[:, :2].max(axis=0),
                np.asarray(np.linalg.pinv(p.to_wrench), dtype=float),
            )
            for p in layout.platforms
        ]

    def read(self, contacts: Sequence[Contact], t: Array) -> Array:
        """Return ideal channels (n, channels) under ``contacts`` at ascending ``t`` (n,) s."""
        channels = np.zeros((t.size, self.layout.channels))
        for contact in contacts:
            rows = slice(*np.searchsorted(t, (contact.start, contact.end)))
            if rows.start < rows.stop:
                self._load(channels, rows, contact, t[rows])
        return channels

    def _load(self, channels: Array, rows: slice, contact: Contact, t: Array) -> None:
        force, pressure = contact.force(t), contact.pressure(t)
        half = np.array([contact.half_x, contact.half_y])
        least, most = pressure.min(axis=0) - half, pressure.max(axis=0) + half
        for part in self._parts:
            if (least >= part.high).any() or (most <= part.low).any():
                continue
            low = np.maximum(pressure - half, part.low)
            high = np.minimum(pressure + half, part.high)
            share = np.prod(np.clip(high - low, 0.0, None) / (2 * half), axis=1)
            if not share.any():
                continue
            middle = np.where(share[:, None] > 0, 0.5 * (low + high), part.platform.centre[:2])
            point = np.column_stack([middle, self.layout.deck.height(middle[:, 0])])
            borne = share[:, None] * force
            moment = np.cross(point - part.platform.centre, borne)
            moment[:, 2] += contact.twist * borne[:, 2]
            wrench = np.hstack([borne, moment])
            channels[rows, list(part.platform.channels)] += wrench @ part.to_channels.T
