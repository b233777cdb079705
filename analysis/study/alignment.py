"""Two recordings of the same pitch, on two clocks: find the offset between them.

``by_correlation`` slides one trace along the other; ``by_pulse`` matches synchronisation
pulses that both devices recorded, which also shows whether one clock runs fast. Offsets are
seconds to add to the second recording's time to reach the first's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import signal, stats

from analysis.counted import counted
from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError

_MIN_OVERLAP = 0.5  # of the shorter trace
#: Clocks that were not compared may differ by this (50 ppm each: common practice, no source).
_UNKNOWN_PPM = 100.0
#: No two clocks differ by more: other pulses were paired, or the times are in another unit.
_LARGEST_PPM = 2000.0
#: 95 % of a normal distribution lie within so many standard deviations.
_95 = 1.959964


@dataclass(frozen=True)
class PulseError:
    """How well pulses tell the relation of two clocks, as half widths of 95 % intervals.

    ``offset_s`` at ``middle_s`` of the second clock; away from there ``drift_ppm`` comes on top,
    what is not known of the clocks' difference in pace. ``drift_measured``: the pulses tell it
    better than the general limit for two clocks, else these are taken to run alike.
    """

    middle_s: float
    offset_s: float
    drift_ppm: float
    drift_measured: bool

    def at(self, second_time: float) -> float:
        """Return the half width (s) at a time of the second clock."""
        return math.hypot(self.offset_s, self.drift_ppm * 1e-6 * abs(second_time - self.middle_s))


@dataclass(frozen=True)
class Alignment:
    """How the second clock lies to the first.

    ``first_time = second_time * (1 + drift_ppm * 1e-6) + offset_s``. ``quality`` is the
    correlation at the best lag, or, by pulses, ``None``; ``runner_up`` the next best separate
    lag's correlation; ``residual_s`` the largest pulse residual; ``step_s`` the coarser
    trace's sample step, within which a steep edge or peak cannot be placed.
    """

    method: str
    offset_s: float
    drift_ppm: float
    quality: float | None
    runner_up: float | None
    pulses: int | None
    residual_s: float | None
    step_s: float

    def to_first(self, second_time: Array) -> Array:
        """Convert times (n,) of the second clock to the first."""
        return second_time * (1 + self.drift_ppm * 1e-6) + self.offset_s


@dataclass(frozen=True)
class PulseAlignment(Alignment):
    """An alignment by pulses, and how well they tell it."""

    pulses: int
    error: PulseError


def refuse_bad_times(time: Array, name: str) -> None:
    """Raise where a trace's times (n,) are too few or do not increase."""
    if len(time) < 8:
        raise StudyError(f"{name} has only {len(time)} samples")
    if not np.all(np.diff(time) > 0):
        row = int(np.flatnonzero(np.diff(time) <= 0)[0]) + 2
        raise StudyError(f"{name}'s times do not increase (row {row})")


def _coarser_step(t1: Array, t2: Array) -> float:
    return float(max(np.median(np.diff(t1)), np.median(np.diff(t2))))


def by_correlation(t1: Array, x1: Array, t2: Array, x2: Array) -> Alignment:
    """Best lag by normalised cross-correlation of two traces (n1,) and (n2,), rates may differ.

    Both are resampled at the faster rate; at each lag the correlation is computed over the
    samples that overlap there (at least half of the shorter trace); the peak is refined between
    samples by a parabola through three points.
    """
    refuse_bad_times(t1, "the first trace")
    refuse_bad_times(t2, "the second trace")
    step = float(min(np.median(np.diff(t1)), np.median(np.diff(t2))))
    a, b = (_resample(t, x, step) for t, x in ((t1, x1), (t2, x2)))
    if np.ptp(a) == 0 or np.ptp(b) == 0:
        raise StudyError("a flat trace cannot be aligned by correlation")
    lags, score = _overlap_correlation(a, b)
    best = int(np.argmax(score))
    fraction = 0.0
    if 0 < best < len(score) - 1:
        left, top, right = score[best - 1 : best + 2]
        bend = left - 2 * top + right
        fraction = 0.5 * (left - right) / bend if bend < 0 else 0.0
    peaks, _ = signal.find_peaks(score)
    others = [float(score[p]) for p in peaks if abs(int(p) - best) > 1]
    return Alignment(
        method="cross-correlation",
        offset_s=float(t1[0] - t2[0] + (lags[best] + fraction) * step),
        drift_ppm=0.0,
        quality=float(score[best]),
        runner_up=max(others, default=None),
        pulses=None,
        residual_s=None,
        step_s=_coarser_step(t1, t2),
    )


def _resample(t: Array, x: Array, step: float) -> Array:
    grid = np.arange(t[0], t[-1] + step / 2, step)
    return np.interp(grid, t, x)


def _overlap_correlation(a: Array, b: Array) -> tuple[Array, Array]:
    """Pearson correlation at each lag (samples ``b`` is moved by) over the overlap only."""
    one_a, one_b = np.ones_like(a), np.ones_like(b)

    def slide(u: Array, v: Array) -> Array:
        return signal.correlate(u, v, mode="full", method="fft")

    count = np.rint(slide(one_a, one_b))
    sum_a, sum_b = slide(a, one_b), slide(one_a, b)
    product = slide(a, b) - sum_a * sum_b / count
    var_a = slide(a**2, one_b) - sum_a**2 / count
    var_b = slide(one_a, b**2) - sum_b**2 / count
    lags = signal.correlation_lags(len(a), len(b), mode="full").astype(np.float64)
    floor = 1e-9 * float(np.var(a) * np.var(b)) * count**2
    keep = (count >= _MIN_OVERLAP * min(len(a), len(b))) & (var_a * var_b > floor)
    if not keep.any():
        raise StudyError("the two traces are too flat to be aligned by correlation")
    score = np.full(len(count), -1.0)
    score[keep] = product[keep] / np.sqrt(var_a[keep] * var_b[keep])
    return lags, score


def rising_edges(time: Array, trace: Array) -> Array:
    """Times where ``trace`` (n,) rises through half of its height, between samples.

    Half height is midway between the median (most samples are outside a pulse) and the
    maximum; a new edge needs a fall below a quarter height first, so that noise on one edge
    does not count twice.
    """
    base, top = float(np.median(trace)), float(trace.max())
    if top - base <= 0:
        return np.empty(0)
    middle, low = base + 0.5 * (top - base), base + 0.25 * (top - base)
    edges, armed = [], bool(trace[0] < middle)
    for i in np.flatnonzero((trace[1:] >= middle) | (trace[1:] < low)) + 1:
        if trace[i] < low:
            armed = True
        elif armed:
            share = (middle - trace[i - 1]) / (trace[i] - trace[i - 1])
            edges.append(time[i - 1] + share * (time[i] - time[i - 1]))
            armed = False
    return np.array(edges)


def by_pulse(t1: Array, pulse1: Array, t2: Array, pulse2: Array) -> PulseAlignment:
    """Match the rising edges of a pulse channel in both recordings.

    One edge gives the offset. Several are paired in order (both recordings must show the same
    number); where they lie far enough apart to tell it, a robust line (Theil 1950; Sen 1968)
    gives the drift too. A steep edge lies anywhere within its sample step (standard deviation
    step / sqrt(12) in either recording). More pulses do not narrow that: at even intervals they
    all meet the sampling at the same place.
    """
    refuse_bad_times(t1, "the first trace")
    refuse_bad_times(t2, "the second trace")
    first, second = rising_edges(t1, pulse1), rising_edges(t2, pulse2)
    if not len(first) or not len(second):
        which = "first" if not len(first) else "second"
        raise StudyError(f"no synchronisation pulse was found in the {which} trace")
    if len(first) != len(second):
        raise StudyError(
            f"the first trace shows {counted(len(first), 'pulse')} and the second {len(second)}; "
            "cut both to the same pulses"
        )
    steps = (float(np.median(np.diff(t))) for t in (t1, t2))
    edge_s = _95 * math.hypot(*steps) / math.sqrt(12.0)
    rate, offset, drift_error = 1.0, float(np.median(first - second)), _UNKNOWN_PPM
    line = _drift(first, second, edge_s) if len(first) > 1 else None
    if line is not None:
        rate, offset, drift_error = line
    residual = float(np.max(np.abs(first - (rate * second + offset))))
    return PulseAlignment(
        method="pulse",
        offset_s=offset,
        drift_ppm=(rate - 1) * 1e6,
        quality=None,
        runner_up=None,
        pulses=len(first),
        residual_s=residual,
        step_s=_coarser_step(t1, t2),
        error=PulseError(
            middle_s=float(second[0] + second[-1]) / 2,
            offset_s=max(edge_s, residual),
            drift_ppm=drift_error,
            drift_measured=line is not None,
        ),
    )


def _drift(first: Array, second: Array, edge_s: float) -> tuple[float, float, float] | None:
    """Return rate, offset and the drift's half width (ppm); None where edges do not tell it."""
    line = stats.theilslopes(first, second)
    ppm = 1e6 * (float(line[0]) - 1)
    error = 1e6 * math.sqrt(2.0) * edge_s / float(second[-1] - second[0])
    if abs(ppm) - error > _LARGEST_PPM:
        raise StudyError(
            f"the pulses do not fit together: the clocks would differ by {abs(ppm):.0f} ppm; cut "
            "both traces to the same pulses, times in seconds"
        )
    if error > _UNKNOWN_PPM and abs(ppm) - error <= _UNKNOWN_PPM:
        return None
    return float(line[0]), float(line[1]), error
