"""Which running plots a screen shows: the feed's health, the load of both sides."""

from __future__ import annotations

import math

from stream.snapshot import Snapshot
from tui.board import FeedHistory
from tui.units import Units
from tui.widgets.strips import Running

_LEAST_FULL_N = 2000.0
_LEAST_LATENCY_MS = 20.0
_LEAST_LOST = 10.0


def health_plots(history: FeedHistory, snapshot: Snapshot, units: Units) -> list[Running]:
    """Return rate, latency and losses of the last minutes."""
    nominal = snapshot.feed.nominal_rate_hz or 200.0
    worst = max([_LEAST_LATENCY_MS, *(v for v in history.latency_ms if math.isfinite(v))])
    lost = max([_LEAST_LOST, *(v for v in history.lost if math.isfinite(v))])
    now = units.quantity("Hz", snapshot.feed.rate_hz)
    latency = units.quantity("ms", snapshot.feed.latency_ms)
    low, high = 0.9 * nominal, 1.1 * nominal
    return [
        Running((f"rate {now}", "last 2 min"), history.rate_hz, low, high, "quiet"),
        Running(
            (f"latency {latency}", f"full height {worst:.0f} ms"),
            history.latency_ms,
            0.0,
            worst,
            "quiet",
        ),
        Running(
            ("lost frames a second", f"full height {lost:.0f}"), history.lost, 0.0, lost, "lead"
        ),
    ]


def load_plots(snapshot: Snapshot, units: Units) -> list[Running]:
    """Return the vertical force of both sides of the deck."""
    strip = snapshot.strip
    full = 3.0 * (snapshot.body_weight_n or 0.0) or _LEAST_FULL_N
    seconds = strip.step_s * len(strip.drive)
    scale = f"full height {units.quantity('N', full)}"
    last = (f"last {seconds:.0f} s", scale) if seconds else (scale,)
    return [
        Running(
            ("push-off side", *last, "vertical force"),
            strip.drive,
            0.0,
            full,
            "drive",
        ),
        Running(("landing side", "the same scale"), strip.lead, 0.0, full, "lead"),
    ]
