"""Two traces of one movement compared sample by sample once their clocks agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from analysis.study.alignment import Alignment
from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError


@dataclass(frozen=True)
class TraceResult:
    """Waveform agreement over the common time; ``bias`` and ``rmse`` in the trace's unit.

    ``rmse_percent`` is of the reference's range. ``peak_difference`` is ours minus reference;
    ``peak_delay_s`` how much later our peak comes after alignment, ``None`` for a flat trace.
    """

    ours: str
    reference: str
    alignment: Alignment
    n: int
    seconds: float
    bias: float
    rmse: float
    rmse_percent: float | None
    correlation: float | None
    peak_difference: float
    peak_delay_s: float | None
    reading: str = ""


Trace = tuple[Array, Array]
"""Times (n,) in seconds and values (n,)."""


def common(first: Trace, second: Trace) -> tuple[Array, Array, Array]:
    """Both traces at the first's own sample times where both exist: times, ours, reference.

    Both are on one clock already. The second is read between its samples by a cubic spline.
    """
    (t1, x1), (t2, x2) = first, second
    keep = (t1 >= t2[0]) & (t1 <= t2[-1])
    if keep.sum() < 8:
        raise StudyError("the two traces do not overlap in time")
    return t1[keep], x1[keep], CubicSpline(t2, x2)(t1[keep])


def compare(
    first: Trace,
    second: Trace,
    alignment: Alignment,
    *,
    ours: str,
    reference: str,
) -> TraceResult:
    """Compare our trace with the reference after ``alignment`` of the reference's clock."""
    time, a, b = common(first, (alignment.to_first(second[0]), second[1]))
    gap = a - b
    rmse = float(np.sqrt(np.mean(gap**2)))
    size = float(np.ptp(b))
    peaks = _peak(time, a), _peak(time, b)
    flat = np.ptp(a) == 0 or size == 0
    return TraceResult(
        ours=ours,
        reference=reference,
        alignment=alignment,
        n=len(time),
        seconds=float(time[-1] - time[0]),
        bias=float(gap.mean()),
        rmse=rmse,
        rmse_percent=None if size == 0 else 100 * rmse / size,
        correlation=None if flat else float(np.corrcoef(a, b)[0, 1]),
        peak_difference=peaks[0][1] - peaks[1][1],
        peak_delay_s=None if flat else peaks[0][0] - peaks[1][0],
    )


def _peak(time: Array, trace: Array) -> tuple[float, float]:
    """Time and height of the maximum, between samples by a parabola through three points."""
    i = int(np.argmax(trace))
    if not 0 < i < len(trace) - 1:
        return float(time[i]), float(trace[i])
    left, top, right = trace[i - 1 : i + 2]
    bend = left - 2 * top + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    when = time[i] + shift * (time[i + 1] - time[i - 1]) / 2
    return float(when), float(top - 0.25 * (left - right) * shift)
