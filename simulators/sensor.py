"""Imperfect sensors: offset, noise, mains hum, drift, gain error and full scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from simulators.curves import Array
from stream.layout import Layout, PlatformKind

#: A moment channel's errors are its platform's force errors at this arm, m.
_ARM_M = 0.3


@dataclass(frozen=True, slots=True)
class Imperfections:
    """How imperfect; forces in N, moments get the same times 0.3 m.

    ``offset_n`` is the SD of the channels' zero offsets; ``noise_n`` of their
    white noise; ``hum_n`` the amplitude of the mains at ``hum_hz``;
    ``drift_n_per_min`` the SD of the channels' steady drift; ``gain`` the SD
    of their gain errors (0.01 = 1 %).
    """

    offset_n: float = 20.0
    noise_n: float = 1.0
    hum_n: float = 0.0
    hum_hz: float = 60.0
    drift_n_per_min: float = 0.0
    gain: float = 0.0

    @classmethod
    def none(cls) -> Imperfections:
        """Return perfect sensors."""
        return cls(offset_n=0.0, noise_n=0.0)


class Sensor:
    """Turns ideal channels into readings, block after block."""

    def __init__(self, layout: Layout, imperfections: Imperfections, seed: int) -> None:
        self._how = imperfections
        self._rng = np.random.default_rng([seed, 7])
        scale, reach = _scales(layout)
        self._scale, self._reach = scale, reach
        n = layout.channels
        self._offset = imperfections.offset_n * scale * self._rng.standard_normal(n)
        self._drift = imperfections.drift_n_per_min / 60.0 * scale * self._rng.standard_normal(n)
        self._gain = 1.0 + imperfections.gain * self._rng.standard_normal(n)
        self._phase = self._rng.uniform(0.0, 2 * np.pi, n)

    def read(self, ideal: Array, t: Array) -> npt.NDArray[np.float32]:
        """Return readings (n, channels) float32 of ``ideal`` channels at ``t`` (n,) s."""
        how = self._how
        reading = ideal * self._gain + self._offset
        if how.drift_n_per_min:
            reading += t[:, None] * self._drift
        if how.hum_n:
            angle = 2 * np.pi * how.hum_hz * t[:, None] + self._phase
            reading += how.hum_n * self._scale * np.sin(angle)
        if how.noise_n:
            reading += how.noise_n * self._scale * self._rng.standard_normal(ideal.shape)
        return np.clip(reading, -self._reach, self._reach).astype(np.float32)


def _scales(layout: Layout) -> tuple[Array, Array]:
    """Scale of errors (1 for force, 0.3 for moment) and full scale of each channel."""
    scale, reach = np.ones(layout.channels), np.full(layout.channels, np.inf)
    for platform in layout.platforms:
        channels = list(platform.channels)
        if platform.kind is PlatformKind.WRENCH:
            scale[channels[3:]] = _ARM_M
        if platform.range is not None:
            reach[channels] = np.abs(np.linalg.inv(platform.calibration)) @ platform.range
    return scale, reach
