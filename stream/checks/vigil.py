"""The readings watched during a session: dead channels, noise, readings at the end of their range.

Live only, a few times a second, on the last second of readings: a recording
that is replayed is measured, not watched. What was so from the beginning is
the set-up check's to find; here a channel must have lived before it is missed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stream.checks.evidence import calibrated, channels_of
from stream.checks.quiet import NOISE_FAIL
from stream.layout import Array, Layout
from stream.snapshot import Level, Sentence

#: A channel that usually moves has died when it stands still to the last bit for so long, s.
STILL_S = 1.0
#: A live amplifier changes nearly every frame; one that seldom does cannot be told from a dead one.
LIVELY_SHARE = 0.9
#: A reading is at the end of its range from this share of full scale on.
END_SHARE = 0.98
#: Both halves of a second on the empty deck agree this well when nothing happens on it, N or N m.
QUIET_N = 5.0
#: Median of a normal variable's size as a share of its SD; of a difference of two, sqrt(2) more.
_MEDIAN_SD = 0.6745 * 2.0**0.5
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
        self._noisy = np.zeros(layout.channels, dtype=bool)
        self._noise = np.zeros(layout.channels)
        self._was_empty = False
        #: Mean raw reading (channels,) when the deck was last seen empty and quiet, None before.
        self.empty_reading: Array | None = None

    def forget_zero(self) -> None:
        """A zero was taken: how it moves is to be seen anew."""
        self.empty_reading = None

    def look(self, newest: npt.NDArray[np.float32], *, empty: bool) -> None:
        """Take the newest second of raw readings (n, channels); missing frames are left out.

        ``empty``: nobody is on the deck now.
        """
        rows = newest[np.isfinite(newest[:, 0])]
        if len(rows) < 2 or len(rows) < len(newest) // 2:
            return
        changes = (np.diff(rows, axis=0) != 0.0).mean(axis=0)
        still = changes == 0.0
        # A device that hides small loads stands still whenever a channel bears nothing.
        self._sleepy |= still & ~self._lively
        self._lively |= changes >= LIVELY_SHARE
        self._still = self._lively & ~self._sleepy & still
        readings = calibrated(self._layout, rows)
        self._ended = np.abs(readings).max(axis=0) >= END_SHARE * self._full
        # A foot that lands has left half a second of quiet, so medians do not feel it.
        if empty and self._was_empty:
            self._noise = np.median(np.abs(np.diff(readings, axis=0)), axis=0) / _MEDIAN_SD
            self._noisy = self._noise > NOISE_FAIL
            half = len(rows) // 2
            if np.abs(readings[half:].mean(axis=0) - readings[:half].mean(axis=0)).max() < QUIET_N:
                self.empty_reading = rows.mean(axis=0, dtype=np.float64)
        self._was_empty = empty

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
        if self._noisy.any():
            worst = float(self._noise.max())
            said.append(
                Sentence(
                    Level.WARNING,
                    "noisy",
                    f"{self._names(self._noisy)}: noise or mains hum of up to {worst:.0f} N with "
                    "nobody on the deck. Move signal cables away from power cables, look for a "
                    "loose plug, then make the set-up check again.",
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
