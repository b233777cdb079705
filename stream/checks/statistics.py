"""Levels, slopes and how well they are known, from noise that need not be white.

Standard errors come from means of quarter-second blocks, so that slow noise
(a building's sway, an amplifier's flicker) is not mistaken for certainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stream.layout import Array

BLOCK_S = 0.25
#: Chance that one check of one good feed is wrongly held against it, all channels together.
FALSE_ALARM = 1e-4


@dataclass(frozen=True, eq=False)
class Trend:
    """Slope per second of each channel, its standard error, and the blocks it rests on."""

    slope: Array
    error: Array
    blocks: int

    def margin(self) -> Array:
        """How far a slope may stray by noise alone (Student's t, all channels together)."""
        return self.error * quantile(self.blocks - 2, len(self.slope))


def quantile(freedom: int, comparisons: int) -> float:
    """Student's t that noise exceeds, either way, with chance FALSE_ALARM in ``comparisons``."""
    from scipy.special import stdtrit  # noqa: PLC0415  (slow to load, and no start needs it)

    return float(-stdtrit(max(freedom, 1), FALSE_ALARM / comparisons / 2))


def block_means(readings: Array, rate_hz: float, block_s: float = BLOCK_S) -> Array:
    """Return means of whole blocks, (blocks, channels)."""
    size = max(1, round(rate_hz * block_s))
    count = len(readings) // size
    return np.asarray(readings[: count * size].reshape(count, size, -1).mean(axis=1))


def trend(readings: Array, rate_hz: float) -> Trend:
    """Return the least-squares slope through the block means of ``readings`` (n, channels)."""
    means = block_means(readings, rate_hz)
    blocks = len(means)
    if blocks < 3:
        unknown = np.full(readings.shape[1], np.inf)
        return Trend(np.zeros(readings.shape[1]), unknown, blocks)
    t = (np.arange(blocks) - (blocks - 1) / 2) * BLOCK_S
    slope = t @ means / (t @ t)
    rest = means - means.mean(axis=0) - np.outer(t, slope)
    variance = (rest**2).sum(axis=0) / (blocks - 2)
    return Trend(slope, np.sqrt(variance / (t @ t)), blocks)


def mean_error(readings: Array, rate_hz: float) -> Array:
    """Return the standard error of each channel's mean: the larger of white and block noise."""
    white = detrended(readings).std(axis=0) / np.sqrt(len(readings))
    means = block_means(readings, rate_hz)
    if len(means) < 3:
        return np.asarray(white)
    return np.asarray(np.maximum(white, detrended(means).std(axis=0, ddof=2) / np.sqrt(len(means))))


def detrended(readings: Array) -> Array:
    """Return ``readings`` (n, channels) without mean and slope."""
    t = np.arange(len(readings)) - (len(readings) - 1) / 2
    centred = readings - readings.mean(axis=0)
    return np.asarray(centred - np.outer(t, t @ centred / (t @ t)))


def signed(value: float, digits: int) -> str:
    """Return a number with its sign; what rounds to nought has none."""
    text = f"{value:+.{digits}f}"
    return text if float(text) else text[1:]
