"""A feed boiled down while it passes: timing, quarter-second means, how far channels reached.

Steady stretches are found in the means, on raw channels and without knowing
what they mean: a check must find the empty deck under any fault of wiring.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stream.checks.evidence import Timing, calibrated, channels_of
from stream.checks.feed import true_rate
from stream.checks.statistics import BLOCK_S
from stream.layout import Array, Layout
from stream.wire import ForceMessage

#: A level is left when a quarter-second mean jumps by this, N or N m, beyond what noise does.
JUMP = 8.0
#: Within a block the SD may grow over the quietest blocks by this, N or N m (a person sways).
SWAY = 15.0
#: A person who stands still shifts his weight by about this share.
JUMP_SHARE = 0.02
#: Blocks compared: neighbours, and up to a second apart, so that a slow laying down is a movement.
_LAGS = (1, 2, 4)
_QUIETEST = 0.2


@dataclass(frozen=True, eq=False)
class Steady:
    """A steady stretch: frames ``first`` to ``end`` (exclusive), raw mean ``level`` (channels,)."""

    first: int
    end: int
    level: Array


@dataclass(frozen=True, eq=False)
class _Block:
    number: int
    frames: int
    mean: Array
    sd: Array


class Survey:
    """Takes force messages one by one; answers what the feed so far was like.

    Only the newest stream (since the device's last start) is described;
    earlier ones are counted as restarts. Late and repeated frames are counted
    and otherwise left out.
    """

    def __init__(self, layout: Layout, live: bool = False) -> None:
        self.layout = layout
        self._live = live
        self._stream: str | None = None
        self._restarts = 0
        self._refused = 0
        self._scale = np.full(layout.channels, np.nan)
        for c in channels_of(layout):
            if c.range is not None:
                self._scale[c.index] = c.range
        self._forget()

    def _forget(self) -> None:
        self._nominal = 0.0
        self._heads: list[tuple[int, int, int, int]] = []
        self._blocks: list[_Block] = []
        self._open: list[Array] = []
        self._number = -1
        self._next = 0
        self._newest_ns = -(2**63)
        self._reach = np.zeros(self.layout.channels)

    @property
    def nominal_hz(self) -> float:
        """Nominal rate of the stream, Hz; 0 before the first message."""
        return self._nominal

    @property
    def next_frame(self) -> int:
        """The frame after the newest one."""
        return self._next

    @property
    def stream(self) -> str | None:
        """The newest stream, None before the first message."""
        return self._stream

    @property
    def block_frames(self) -> int:
        """Frames in a block."""
        return max(1, round(self._nominal * BLOCK_S))

    def refuse(self) -> None:
        """Count a message that could not be read."""
        self._refused += 1

    def add(self, message: ForceMessage, received_ns: int) -> None:
        """Take the next message, whose channels fit the layout."""
        if message.stream != self._stream or self._counts_anew(message):
            if self._stream is not None:
                self._restarts += 1
            self._forget()
            self._stream = message.stream
            self._nominal = message.rate_hz
            self._next = message.first_frame
        samples = np.asarray(message.samples, dtype=float)
        self._newest_ns = max(self._newest_ns, message.t_ns)
        self._heads.append((message.first_frame, len(samples), message.t_ns, received_ns))
        fresh = max(self._next - message.first_frame, 0)
        if fresh >= len(samples):
            return
        self._spread(message.first_frame + fresh, samples[fresh:])
        self._next = message.first_frame + len(samples)

    def _counts_anew(self, message: ForceMessage) -> bool:
        """Whether the device began anew unsaid: its frames go back, and its clock does not."""
        ends = message.first_frame + len(message.samples)
        return ends <= self._next and message.t_ns > self._newest_ns

    def _spread(self, first: int, samples: Array) -> None:
        size = self.block_frames
        while len(samples):
            number, into = divmod(first, size)
            if number != self._number:
                self._close()
                self._number = number
            part = samples[: size - into]
            self._open.append(part)
            samples = samples[len(part) :]
            first += len(part)
            if first % size == 0:
                self._close()

    def _close(self) -> None:
        if not self._open:
            return
        rows = np.concatenate(self._open)
        self._open = []
        np.maximum(self._reach, np.abs(calibrated(self.layout, rows)).max(axis=0), out=self._reach)
        if len(rows) >= self.block_frames // 2:
            self._blocks.append(_Block(self._number, len(rows), rows.mean(0), rows.std(0)))

    def timing(self) -> Timing:
        """Return when the messages left and came."""
        columns = np.array(self._heads, dtype=np.int64).reshape(-1, 4).T
        return Timing(
            nominal_hz=self._nominal or 1.0,
            first_frame=columns[0],
            frames=columns[1],
            device_ns=columns[2],
            host_ns=columns[3],
            restarts=self._restarts,
            refused=self._refused,
            live=self._live,
        )

    def reach(self) -> Array:
        """Return the greatest reading of each channel as a share of full scale, NaN if unknown."""
        return np.asarray(self._reach / self._scale)

    def rate_hz(self) -> float:
        """Return the true rate as far as the device's clock tells it, else the nominal one."""
        rate = true_rate(self.timing())
        believable = rate is not None and 0.5 < rate / self._nominal < 2.0
        return rate if rate is not None and believable else self._nominal

    def steady(self, least_s: float, since_frame: int = 0) -> list[Steady]:
        """Return the steady stretches of at least ``least_s``, in order.

        A quarter second is cut off at each end of a stretch that ends in a
        movement: the load was still settling or already leaving.
        """
        size = self.block_frames
        blocks = [b for b in self._blocks if b.number * size >= since_frame]
        if len(blocks) < 2:
            return []
        numbers = np.array([b.number for b in blocks])
        means = np.array([b.mean for b in blocks])
        linked = self._linked(means, np.array([b.sd for b in blocks]))
        linked &= np.diff(numbers) <= 2
        found = []
        start = 0
        for i in range(1, len(blocks) + 1):
            if i < len(blocks) and linked[i - 1]:
                continue
            low = start + (1 if start > 0 else 0)
            high = i - (1 if i < len(blocks) else 0)
            if (high - low) * size >= least_s * self._nominal and high > low:
                found.append(
                    Steady(
                        int(numbers[low]) * size,
                        (int(numbers[high - 1]) + 1) * size,
                        means[low:high].mean(axis=0),
                    )
                )
            start = i
        return found

    def _linked(self, means: Array, sds: Array) -> npt.NDArray[np.bool_]:
        """Return whether each block continues the one before; (blocks, channels) in."""
        quietest = np.quantile(np.array([b.sd for b in self._blocks]), _QUIETEST, axis=0)
        noise = 6.0 * np.sqrt(2.0 / self.block_frames) * quietest
        linked = np.ones(len(means) - 1, dtype=bool)
        steps = np.abs(np.diff(means, axis=0))
        for lag in _LAGS:
            if lag >= len(means):
                break
            # A channel stuck at its end is no load.
            load = np.abs(means[lag:] * (sds[lag:] > 0)).max(axis=1, keepdims=True)
            allowed = JUMP + JUMP_SHARE * load
            left = np.abs(means[lag:] - means[:-lag]) > noise + allowed
            for k in range(lag):  # of a slow change only the steps that carry it are broken
                carries = steps[k : k + len(left)] > noise + allowed / lag
                linked[k : k + len(left)] &= ~(left & carries).any(axis=1)
        calm = (sds <= 3.0 * quietest + SWAY).all(axis=1)
        return np.asarray(linked & calm[1:] & calm[:-1])
