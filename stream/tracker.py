"""Frames in order to findings: the ring, the online loads and the detector of one stream."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from stream.detect import Detector, Phase
from stream.feet import FeetModel
from stream.findings import Finding, MovementEnded
from stream.online import OnlineLoads
from stream.ring import Ring
from stream.settings import Settings
from stream.wire import Samples
from stream.zero import LEARNT, TAKEN, Stretch, Zero

#: History kept, s: longest movement, its quiet standing, and a block being taken.
HISTORY_S = 30.0
#: Frames taken at one go, so that a window just found is still in the ring, s.
BITE_S = 10.0
#: A longer gap than this cannot be inside a movement that is still worth measuring, s.
LONGEST_GAP_S = 2.0


class Tracker:
    """One stream of frames at one rate. ``zero`` is the zero in force at its start."""

    def __init__(
        self, feet: FeetModel, rate_hz: float, settings: Settings, zero: Zero, first_frame: int
    ) -> None:
        capacity = round(HISTORY_S * rate_hz)
        self._rows = feet.online_rows()
        self._sides = feet.sides()
        self._loads = OnlineLoads(self._rows, self._sides)
        self._settings = settings
        self._bite = max(1, round(BITE_S * rate_hz))
        self._holds_zero = False
        self.rate_hz = rate_hz
        self.raw = Ring(capacity, feet.layout.channels, np.float32)
        self.online = Ring(capacity, len(self._rows), np.float64)
        self._begin(first_frame, zero)

    @property
    def zero(self) -> Zero:
        """The zero in force."""
        return self.detector.zeros.zero

    @property
    def zero_age_s(self) -> float:
        """How long the zero has been in force, by the frame count."""
        return (self.raw.end - self.zero.frame) / self.rate_hz

    @property
    def in_delivery(self) -> bool:
        """Whether the lead foot has landed and the delivery is not over."""
        return self.detector.phase is Phase.LANDED

    def take(self, samples: Samples) -> Iterator[Finding]:
        """Take the next frames (n, channels); give what is found, each while its window is kept."""
        for start in range(0, len(samples), self._bite):
            bite = samples[start : start + self._bite]
            self.raw.append(bite)
            self.online.append(self._loads.of(bite))
            yield from self.detector.advance()

    def skip(self, frames: int) -> Iterator[Finding]:
        """Mark the next ``frames`` frames as missing; after a long gap begin anew."""
        if frames > LONGEST_GAP_S * self.rate_hz:
            self._begin(self.raw.end + frames, self.zero)
            return
        yield from self.take(np.full((frames, self.raw.width), np.nan, np.float32))

    def set_zero(self, tare: Sequence[float]) -> Zero:
        """Let ``tare`` (channels,), taken on purpose, be the zero from now on; return it."""
        zero = zero_from_tare(
            np.asarray(tare, dtype=np.float64),
            self._rows,
            self.zero.noise,
            frame=self.raw.end,
            kind=TAKEN,
        )
        self.detector.zeros.put(zero)
        return zero

    def hold_zero(self, held: bool) -> None:
        """Keep the zero in force, or let it be learnt again, from the next row on."""
        self._holds_zero = self.detector.zeros.holds = held

    def window(self, ended: MovementEnded) -> npt.NDArray[np.float32]:
        """Return a movement's raw frames as the ring has them: not to be kept."""
        return self.raw.view(ended.start, ended.end)

    def _begin(self, frame: int, zero: Zero) -> None:
        self.raw.restart(frame)
        self.online.restart(frame)
        self.detector = Detector(
            self.online, self.rate_hz, self._settings, zero, len(self._sides), self
        )
        self.detector.zeros.holds = self._holds_zero

    def from_stretch(self, present: Zero, side: int, stretch: Stretch) -> Zero:
        """Return ``present`` with one side's channels read from ``stretch``."""
        quiet = self.raw.view(max(stretch.start, self.raw.first), stretch.end)
        noise = stretch.noise * math.sqrt(len(self._sides))
        total = np.add.reduce(quiet[:, self._sides[side]], axis=0, dtype=np.float64)
        return self._changed(present, side, total / len(quiet), noise, stretch.end)

    def restored(self, present: Zero, earlier: Zero, side: int, frame: int) -> Zero:
        """Return ``present`` with one side's channels as they were in ``earlier``."""
        tare = earlier.tare[self._sides[side]]
        return self._changed(present, side, tare, present.noise, frame)

    def _changed(
        self, present: Zero, side: int, tare: npt.NDArray[np.float64], noise: float, frame: int
    ) -> Zero:
        changed = present.tare.copy()
        changed[self._sides[side]] = tare
        return zero_from_tare(changed, self._rows, noise, frame=frame, kind=LEARNT)


def zero_from_tare(
    tare: npt.NDArray[np.float64],
    online_rows: npt.NDArray[np.float64],
    noise: float,
    *,
    frame: int,
    kind: str,
) -> Zero:
    """Return the zero of ``tare`` (channels,), seen through the feet model's online rows."""
    drive_z, lead_z, drive_x, lead_x, drive_y, lead_y = (online_rows @ tare).tolist()
    return Zero(
        tare, drive_z, lead_z, drive_x, lead_x, drive_y, lead_y, noise=noise, frame=frame, kind=kind
    )
