"""The device's clock against the host's clock: offset and drift from one-way readings.

A feed goes one way, so a message tells only T2 - T1, receive time minus send
time: the host's offset from the device plus the delay on the way. As in the
clock filter of RFC 5905 (section 10: of eight readings keep the one of
smallest delay), each run of messages gives its smallest reading, since delay
only ever adds. A robust line (median of pairwise slopes, Theil and Sen)
through the kept readings is offset and drift. With the arithmetic of RFC 5905
(section 8) a reading is theta + delta / 2 on a symmetrical path: the offset
told here is late by the shortest one-way delay, which one-way readings cannot
show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

#: Stages of the clock filter (RFC 5905, section 10: NSTAGE 8).
STAGES = 8
#: At most this many kept readings: pairwise slopes cost their square.
MOST_KEPT = 150
_LEAST_KEPT = 5
_NS = 1e-9


@dataclass(frozen=True, eq=False)
class ClockFit:
    """Host clock minus device clock, as a line over device time.

    ``offset_s`` at the first message (shortest delay included);
    ``drift_ppm`` its growth (positive: the device's clock runs slow against
    the host's), ``drift_low_ppm`` and ``drift_high_ppm`` its 95 % interval;
    ``delay_s`` (messages,) how much later than that line each message came.
    """

    offset_s: float
    drift_ppm: float
    drift_low_ppm: float
    drift_high_ppm: float
    delay_s: Array


def shortest_delays(readings: npt.ArrayLike, stages: int = STAGES) -> npt.NDArray[np.intp]:
    """Return the index of the smallest of each run of ``stages`` readings (RFC 5905, section 10).

    A last run shorter than half of ``stages`` is left out.
    """
    values = np.asarray(readings, dtype=float)
    starts = range(0, len(values) - stages // 2 + 1, stages)
    return np.array([s + int(np.argmin(values[s : s + stages])) for s in starts], dtype=np.intp)


def fit_clock(device_ns: npt.ArrayLike, host_ns: npt.ArrayLike) -> ClockFit | None:
    """Fit the host's clock to the device's; None with fewer than 40 messages.

    ``device_ns`` and ``host_ns`` (messages,) are when each message left, by
    the device's clock, and when it came, by the host's.
    """
    from scipy.stats import theilslopes  # noqa: PLC0415  (slow to load, and no start needs it)

    device = np.asarray(device_ns, dtype=np.int64)
    host = np.asarray(host_ns, dtype=np.int64)
    if len(device) < _LEAST_KEPT * STAGES:
        return None
    # Whole nanoseconds are subtracted before floats see them: 1e18 ns has no room for 1 us.
    reading_ns = host - device
    reading = (reading_ns - reading_ns[0]) * _NS
    elapsed = (device - device[0]) * _NS
    kept = shortest_delays(reading, max(STAGES, -(-len(device) // MOST_KEPT)))
    if np.ptp(elapsed[kept]) <= 0.0:
        return None
    slope, level, low, high = (float(v) for v in theilslopes(reading[kept], elapsed[kept]))
    line = level + slope * elapsed
    return ClockFit(
        offset_s=level + float(reading_ns[0]) * _NS,
        drift_ppm=slope * 1e6,
        drift_low_ppm=low * 1e6,
        drift_high_ppm=high * 1e6,
        delay_s=reading - line,
    )
