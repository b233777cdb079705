"""The readings watched during a session: channels that die, readings at the end of their range.

Live only, a few times a second, on the last second of readings: a recording
that is replayed is measured, not watched. What was so from the beginning is
the set-up check's to find; here a channel must have lived before it is missed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stream.checks.evidence import calibrated, channels_of
from stream.layout import Layout
from stream.snapshot import Level, Sentence

#: A channel that usually moves has died when it stands still to the last bit for so long, s.
STILL_S = 1.0
#: A live amplifier changes nearly every frame; one that seldom does cannot be told from a dead one.
LIVELY_SHARE = 0.9
#: A reading is at the end of its range from this share of full scale on.
END_SHARE = 0.98
_NAMED = 4


class Vigil:
    """Watches the readings of one mound."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._labels = [""] * layout.channels
        self._full = np.full(layout.channels, np.inf)
        for channel in channels_of(layout):
            self._labels[channel.index] = channel.label
            if channel.range is not None:
                self._full[channel.index] = channel.range
        self._lively = np.zeros(layout.channels, dtype=bool)
        self._sleepy = np.zeros(layout.channels, dtype=bool)
        self._still = np.zeros(layout.channels, dtype=bool)
        self._ended = np.zeros(layout.channels, dtype=bool)

    def look(self, newest: npt.NDArray[np.float32]) -> None:
        """Take the newest second of raw readings (n, channels); missing frames are left out."""
        rows = newest[np.isfinite(newest[:, 0])]
        if len(rows) < 2 or len(rows) < len(newest) // 2:
            return
        changes = (np.diff(rows, axis=0) != 0.0).mean(axis=0)
        still = changes == 0.0
        # A device that hides small loads stands still whenever a channel bears nothing.
        self._sleepy |= still & ~self._lively
        self._lively |= changes >= LIVELY_SHARE
        self._still = self._lively & ~self._sleepy & still
        reach = np.abs(calibrated(self._layout, rows)).max(axis=0)
        self._ended = reach >= END_SHARE * self._full

    def sentences(self) -> list[Sentence]:
        """Return what is wrong with the readings now, and what to do."""
        said = []
        if self._still.any():
            said.append(
                Sentence(
                    Level.ALARM,
                    "still",
                    f"{self._names(self._still)}: the reading stands still. Check the plug and "
                    "cable of that sensor, then switch the amplifier off and on; what is measured "
                    "meanwhile is wrong. Then make the set-up check again.",
                )
            )
        if self._ended.any():
            said.append(
                Sentence(
                    Level.WARNING,
                    "range",
                    f"{self._names(self._ended)}: the reading is at the end of its range and is "
                    "cut off there. Set a larger range at the amplifier; with nobody on the deck "
                    "the sensor or its cable is broken.",
                )
            )
        return said

    def _names(self, which: npt.NDArray[np.bool_]) -> str:
        found = [self._labels[k] for k in np.flatnonzero(which)]
        more = len(found) - _NAMED
        named = ", ".join(found[:_NAMED]) + (f" and {more} more" if more > 0 else "")
        return named[:1].upper() + named[1:]
