"""How a session's time lies to a motion capture's: by shared pulses, or by the host's clock.

Both tell where a pitch's file begins and how sure that is, in the file and in a sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np
import numpy.typing as npt

from analysis.exports.errors import ExportError
from analysis.exports.frames import FrameReader
from analysis.exports.windows import PitchWindow
from analysis.sessions.clock import first_message
from stream.layout import Layout
from stream.recording.reader import read_recording

if TYPE_CHECKING:
    from analysis.study.alignment import PulseError

Array = npt.NDArray[np.float64]


class Sync(Protocol):
    """A way of telling a file's beginning on another clock."""

    @property
    def method(self) -> str:
        """``clock``, ``pulse`` or ``none``."""

    def say(self, windows: Sequence[PitchWindow]) -> str:
        """Return the way and its uncertainty for ``windows``, in a sentence."""

    def start_s(self, window: PitchWindow, frame: int) -> float | None:
        """Return the time of device ``frame`` on the motion capture's clock, if that is known."""

    def uncertainty_s(self, window: PitchWindow) -> float | None:
        """Return the half width of the 95 % interval of a file's beginning."""


@dataclass(frozen=True)
class ByClock:
    """The files carry the time of day by the monitor's clock."""

    method: str = "clock"

    def say(self, windows: Sequence[PitchWindow]) -> str:
        """Return the way and its uncertainty."""
        spreads = [w.host.spread_s for w in windows if w.host.spread_s is not None]
        within = (
            f"95 % of the feed's messages lay within {1000 * max(spreads):.1f} ms of it"
            if len(spreads) == len(windows)
            else "too few messages came to tell how surely"
        )
        return (
            f"By clock: UTC is the monitor's time at the first frame; {within}. The feed's "
            "shortest delay and the difference between the two computers' clocks come on top."
        )

    def start_s(self, window: PitchWindow, frame: int) -> float | None:
        """The motion capture's own clock is not known here."""
        return None

    def uncertainty_s(self, window: PitchWindow) -> float | None:
        """Return the spread of the messages' times."""
        return window.host.spread_s


@dataclass(frozen=True)
class NoClock:
    """Nothing tells when it was: a recording made from a CSV or C3D file begins at 0."""

    method: str = "none"

    def say(self, windows: Sequence[PitchWindow]) -> str:
        """Return that it is not known."""
        return (
            "On no common clock: the recording tells no time of day (it was made from another "
            "file); PITCH:FIRST_FRAME says where in it a file begins."
        )

    def start_s(self, window: PitchWindow, frame: int) -> float | None:
        """Not known."""
        return None

    def uncertainty_s(self, window: PitchWindow) -> float | None:
        """Not known."""
        return None


def by_host(recordings: Sequence[Path]) -> Sync:
    """Return the host's clock, or none where ``recordings`` tell no time of day."""
    return NoClock() if first_message(recordings) is None else ByClock()


@dataclass(frozen=True, eq=False)
class ByPulse:
    """Shared pulses: ``lab_s = session_s x rate + offset_s``.

    ``error`` tells the 95 % half width, by the session's time. ``starts`` maps a stream of the
    device to the session's time of its frame 0 (s).
    """

    offset_s: float
    rate: float
    error: PulseError
    pulses: int
    rate_hz: float
    recording: Path
    starts: dict[str, float] = field(default_factory=dict)
    method: str = "pulse"

    def say(self, windows: Sequence[PitchWindow]) -> str:
        """Return the way and its uncertainty."""
        count = "1 shared pulse" if self.pulses == 1 else f"{self.pulses} shared pulses"
        pace = (
            f"clocks differ by {1e6 * (self.rate - 1):.1f} +- {self.error.drift_ppm:.1f} ppm"
            if self.error.drift_measured
            else "how much faster one clock runs cannot be told from so few or so close pulses: "
            f"up to {self.error.drift_ppm:.0f} ppm is allowed for"
        )
        errors = [error for w in windows if (error := self.uncertainty_s(w)) is not None]
        known = f", known to {1000 * max(errors):.1f} ms (95 %)" if errors else ""
        return (
            f"By {count}: motion capture time = recording time + {self.offset_s:.4f} s{known}; "
            f"{pace}."
        )

    def start_s(self, window: PitchWindow, frame: int) -> float | None:
        """Return the time of device ``frame`` by the motion capture's clock, s."""
        ours = self._session_s(window, frame)
        return None if ours is None else ours * self.rate + self.offset_s

    def uncertainty_s(self, window: PitchWindow) -> float | None:
        """Return the half width of the 95 % interval at the window's beginning."""
        ours = self._session_s(window, window.first_frame)
        return None if ours is None else self.error.at(ours)

    def _session_s(self, window: PitchWindow, frame: int) -> float | None:
        zero = self.starts.get(window.record.stream)
        if zero is None or window.recording != self.recording:
            return None
        return zero + frame / self.rate_hz


def by_pulse(
    recording: Path, layout: Layout, source: str, channel: str | None, lab: tuple[Array, Array]
) -> ByPulse:
    """Match the pulses of a spare channel with those of ``lab`` (times s, pulse trace).

    Raise :class:`ExportError` where that cannot be done.
    """
    try:
        from analysis.study import alignment  # noqa: PLC0415 - an optional extra comes with it
        from analysis.study.results import StudyError  # noqa: PLC0415
    except ImportError as error:
        raise ExportError(
            f"alignment needs '{error.name}'; install it with: pip install '.[study]'"
        ) from None
    index = _spare(layout, channel)
    reader = FrameReader(read_recording(recording), layout, source)
    times, values, starts = list[Array](), list[Array](), dict[str, float]()
    rate_hz = 0.0
    for block in reader.blocks():
        rate_hz = block.rate_hz
        starts.setdefault(block.stream, block.t_s - block.first_frame / rate_hz)
        pulse = block.samples[:, index]
        there = np.isfinite(pulse)
        times.append((block.t_s + np.arange(len(pulse)) / rate_hz)[there])
        values.append(pulse[there])
    ours, lab_time = np.concatenate(times), lab[0]
    try:
        found = alignment.by_pulse(lab_time, lab[1], ours, np.concatenate(values))
    except StudyError as error:
        raise ExportError(f"synchronisation: {error}") from None
    return ByPulse(
        offset_s=found.offset_s,
        rate=1.0 + found.drift_ppm * 1e-6,
        error=found.error,
        pulses=found.pulses,
        rate_hz=rate_hz,
        recording=recording,
        starts=starts,
    )


def _spare(layout: Layout, channel: str | None) -> int:
    if not layout.spare:
        raise ExportError(
            f"the layout {layout.name!r} has no spare channel with a pulse ([spare] in the layout)"
        )
    if channel is None and len(layout.spare) == 1:
        return next(iter(layout.spare.values()))
    if channel is None or channel not in layout.spare:
        raise ExportError(
            f"the layout's spare channels are {', '.join(layout.spare)}; choose one with "
            "--sync-channel"
        )
    return layout.spare[channel]
