"""Evidence of a set-up check: what was seen, as frozen objects, before anybody judges it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
import numpy.typing as npt

from stream.checks.statistics import Trend, mean_error, trend
from stream.clock import ClockFit, fit_clock
from stream.layout import Array, Layout, Platform, PlatformKind
from stream.movement import STANDARD_GRAVITY

_AXES = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")

Integers = npt.NDArray[np.int64]


class Need(StrEnum):
    """A piece of evidence that a check rests on; the text says what is missing without it."""

    TIMING = "at least a second of feed"
    LIVE = "a live feed"
    HOST_TIME = "messages received as they were sent (at least 40, in real time)"
    QUIET = "a steady stretch with nobody on the deck"
    LOADED = "a steady stretch with a load on the deck"
    MASS = "the known mass (--mass-kg)"
    SPOT = "the marked spot (--at X,Y)"


@dataclass(frozen=True)
class Channel:
    """One channel in words: ``unit`` N or N m; ``range`` its full scale or None."""

    index: int
    platform: str
    axis: str
    unit: str
    range: float | None

    @property
    def label(self) -> str:
        """The channel as an operator reads it."""
        return f"{self.platform} {self.axis} (channel {self.index})"


def channels_of(layout: Layout) -> tuple[Channel, ...]:
    """Return every channel that belongs to a platform, in the layout's order."""
    found = []
    for p in layout.platforms:
        for k, index in enumerate(p.channels):
            axis = _AXES[k] if p.kind is PlatformKind.WRENCH else _AXES[k % 3]
            name = p.name
            if p.kind is PlatformKind.CELLS:
                name = f"{p.name} {cell_name(p, k // 3)} cell"
            reach = p.range[k] if p.range else None
            found.append(Channel(index, name, axis, "N m" if axis[0] == "M" else "N", reach))
    return tuple(found)


def cell_name(platform: Platform, cell: int) -> str:
    """Return where a cell lies, in words of a pitcher who faces home."""
    assert platform.cells is not None
    x, y = platform.cells[cell, :2] - platform.cells[:, :2].mean(axis=0)
    return f"{'front' if x > 0 else 'rear'} {'left' if y > 0 else 'right'}"


def calibrated(layout: Layout, raw: npt.ArrayLike) -> Array:
    """Return raw samples (n, channels) in N and N m, each platform by its calibration matrix."""
    samples = np.array(raw, dtype=float)
    for p in layout.platforms:
        index = list(p.channels)
        if not np.array_equal(p.calibration, np.eye(len(index))):
            samples[:, index] = samples[:, index] @ p.calibration.T
    return samples


@dataclass(frozen=True)
class FrameCount:
    """Frames that should have come and what became of them."""

    expected: int
    lost: int
    repeated: int
    late: int
    gaps: int


@dataclass(frozen=True, eq=False)
class Timing:
    """When each message of one stream left and came, in the order of coming.

    ``first_frame``, ``frames``, ``device_ns`` (device clock at the first
    frame) and ``host_ns`` are (messages,). ``restarts``: other streams seen
    meanwhile; ``refused``: messages that could not be read.
    """

    nominal_hz: float
    first_frame: Integers
    frames: Integers
    device_ns: Integers
    host_ns: Integers
    restarts: int = 0
    refused: int = 0
    live: bool = False

    @cached_property
    def counted(self) -> FrameCount:
        """The frames, counted."""
        return count_frames(self.first_frame, self.frames)

    @property
    def seconds(self) -> float:
        """Length of the feed by its frames, s."""
        return self.counted.expected / self.nominal_hz

    @property
    def real_time(self) -> bool:
        """Whether messages came as fast as they were sent, so that host time tells something."""
        if len(self.host_ns) < 40:
            return False
        sent = float(self.device_ns[-1] - self.device_ns[0])
        came = float(self.host_ns[-1] - self.host_ns[0])
        return sent > 0 and 0.5 < came / sent < 2.0

    @cached_property
    def clock(self) -> ClockFit | None:
        """Device clock against host clock; a message leaves when its last frame is there."""
        sent = self.device_ns + ((self.frames - 1) * (1e9 / self.nominal_hz)).astype(np.int64)
        return fit_clock(sent, self.host_ns)


def count_frames(first_frame: Integers, frames: Integers) -> FrameCount:
    """Count lost, repeated and late frames of messages given in the order of coming.

    A late frame fills a gap after newer ones came; a repeated one had come before.
    """
    gaps: list[tuple[int, int]] = []
    start = reached = int(first_frame[0]) if len(first_frame) else 0
    repeated = late = 0
    for first, count in zip(first_frame.tolist(), frames.tolist(), strict=True):
        end = first + count
        if first > reached:
            gaps.append((reached, first))
        old_end = min(end, reached)
        if first < reached:
            filled, gaps = _fill(gaps, first, old_end)
            late += filled
            repeated += old_end - first - filled
        reached = max(reached, end)
    lost = sum(b - a for a, b in gaps)
    return FrameCount(reached - start, lost, repeated, late, len(gaps))


def _fill(gaps: list[tuple[int, int]], first: int, end: int) -> tuple[int, list[tuple[int, int]]]:
    """Take frames ``first`` to ``end`` out of the gaps; return how many were missing there."""
    filled = 0
    left = []
    for a, b in gaps:
        low, high = max(a, first), min(b, end)
        if low >= high:
            left.append((a, b))
            continue
        filled += high - low
        left += [(s, e) for s, e in ((a, low), (high, b)) if s < e]
    return filled, left


@dataclass(frozen=True, eq=False)
class Stretch:
    """A steady stretch of feed: raw ``samples`` (n, channels), the first at ``first_frame``.

    ``rate_hz`` is the true sample rate as far as it is known.
    """

    layout: Layout
    rate_hz: float
    first_frame: int
    samples: Array

    @cached_property
    def readings(self) -> Array:
        """The samples in N and N m, (n, channels)."""
        return calibrated(self.layout, self.samples)

    @cached_property
    def level(self) -> Array:
        """Mean reading, (channels,)."""
        return np.asarray(self.readings.mean(axis=0))

    @cached_property
    def trend(self) -> Trend:
        """Slope of each reading and how well it is known."""
        return trend(self.readings, self.rate_hz)

    @cached_property
    def level_error(self) -> Array:
        """Standard error of :attr:`level`, (channels,)."""
        return mean_error(self.readings, self.rate_hz)

    @property
    def seconds(self) -> float:
        """Length, s."""
        return len(self.samples) / self.rate_hz

    @property
    def middle_frame(self) -> float:
        """Frame index of the middle of the stretch."""
        return self.first_frame + (len(self.samples) - 1) / 2


class Quiet(Stretch):
    """A stretch with nobody and nothing on the deck."""


class Loaded(Stretch):
    """A stretch with a load standing still on the deck."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything one set-up check rests on; what was not seen is None.

    ``reach`` (channels,): greatest reading met anywhere, as a share of full
    scale, NaN where that is unknown. ``spot`` (x, y) m, mound frame.
    """

    layout: Layout
    timing: Timing
    quiet: Quiet | None = None
    loaded: Loaded | None = None
    reach: Array | None = None
    mass_kg: float | None = None
    spot: tuple[float, float] | None = None
    gravity: float = STANDARD_GRAVITY

    @cached_property
    def channels(self) -> tuple[Channel, ...]:
        """The layout's channels."""
        return channels_of(self.layout)

    def missing(self, needs: tuple[Need, ...]) -> Need | None:
        """Return the first of ``needs`` that was not seen, or None."""
        seen = {
            Need.TIMING: self.timing.seconds >= 1.0,
            Need.LIVE: self.timing.live,
            Need.HOST_TIME: self.timing.real_time and self.timing.clock is not None,
            Need.QUIET: self.quiet is not None,
            Need.LOADED: self.quiet is not None and self.loaded is not None,
            Need.MASS: self.mass_kg is not None,
            Need.SPOT: self.spot is not None,
        }
        return next((n for n in needs if not seen[n]), None)
