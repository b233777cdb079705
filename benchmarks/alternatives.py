"""What somebody would do without the program: a batch script, and a loop sample by sample.

All three read the same invented session and give each pitch's foot contact
and the greatest push-off and landing force. The script reads the exported CSV
with pandas and filters with SciPy, all at once; the loop filters and decides
one sample at a time in plain Python, as on a microcontroller. Neither tells a
pitch from a throw to a base, or says what it could not measure.
"""

from __future__ import annotations

import math
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.signal import butter, filtfilt

from benchmarks.feeds import PROGRAM, simulated
from benchmarks.figures import Figure, in_turn, ratio
from benchmarks.replay_cost import replay
from stream.filters import design_cutoff
from stream.outputs import Pitch
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of

RATE_HZ, CUTOFF_HZ = 200.0, 40.0
_AXES = [f"{plate}_f{axis}_n" for plate in ("rear", "front") for axis in "xyz"]
#: Contact frame, greatest push-off and landing force, N.
Found = tuple[float, float, float]


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Compare the three on one session."""
    pitches = 6 if quick else 25
    path = simulated(folder / "same.mcap", "--pitches", str(pitches), "--block", "10", "--quick")
    traces = folder / "same.csv"
    export = [*PROGRAM, "export", "--to", "traces", "-o", str(traces), str(path)]
    subprocess.run(export, check=True, capture_output=True)
    setup = setup_of(read_recording(path))
    works = (lambda: list(replay(path, setup)), lambda: batch(traces), lambda: by_sample(traces))
    times = in_turn(2 if quick else 4, *works)
    yield Figure("Batch script over the CSV (pandas, SciPy), times replay", ratio(times, 1), "x")
    yield Figure("Loop sample by sample over the CSV, times replay", ratio(times, 2), "x")
    known = _known(path)
    yield Figure("Batch script: pitches with other peaks than replay's (beyond 2 %)",
                 _unlike(known, batch(traces)), "")  # fmt: skip
    yield Figure("Loop: pitches with other peaks than replay's (beyond 2 %)",
                 _unlike(known, by_sample(traces)), "")  # fmt: skip


def batch(traces: Path) -> list[Found]:
    """Measure with whole-array operations."""
    table = pd.read_csv(traces, usecols=["frame", *_AXES])
    values = table[_AXES].to_numpy()
    values = values - np.median(values[: round(RATE_HZ)], axis=0)
    b, a = butter(2, design_cutoff(CUTOFF_HZ, RATE_HZ), fs=RATE_HZ)
    smooth = filtfilt(b, a, values, axis=0)
    total = pd.Series(values[:, 2] + values[:, 5])
    window = total.rolling(round(0.5 * RATE_HZ))
    quiet = (window.std() < 0.015 * window.mean()) & (window.mean() > 400.0)
    weight = total.where(quiet).ffill().to_numpy()
    lead, drive = (np.linalg.norm(smooth[:, part], axis=1) for part in (slice(3, 6), slice(0, 3)))
    above = values[:, 5] >= 0.10 * weight
    found: list[Found] = []
    for at in np.flatnonzero(~above[:-1] & above[1:]) + 1:
        after, before = slice(at, at + 100), slice(max(0, at - 160), at + 20)
        flight = not above[max(0, at - 20) : at].any()
        landed = lead[after].max(initial=0.0) > 1.3 * weight[at]
        pushed = smooth[before, 0].max(initial=0.0) > 0.3 * weight[at]
        if flight and landed and pushed:
            share = (0.1 * weight[at] - values[at - 1, 5]) / (values[at, 5] - values[at - 1, 5])
            found.append((at - 1 + share, drive[before].max(), lead[after].max()))
    return found


def by_sample(traces: Path) -> list[Found]:
    """Measure one sample at a time with a causal filter."""
    (b0, b1, b2), (_, a1, a2) = butter(2, CUTOFF_HZ, fs=RATE_HZ)
    state = [[0.0, 0.0] for _ in _AXES]
    zero, start = [0.0] * len(_AXES), round(RATE_HZ)
    recent: list[float] = []
    weight, air, drive_peak, push, contact, landing = math.inf, 0, 0.0, 0.0, -1, 0.0
    found: list[Found] = []
    with traces.open() as file:
        names = file.readline().strip().split(",")
        columns = [names.index(name) for name in _AXES]
        for frame, line in enumerate(file):
            cells = line.split(",")
            raw = [float(cells[c]) for c in columns]
            if frame < start:
                zero = [z + r / start for z, r in zip(zero, raw, strict=True)]
                continue
            smooth = []
            for x, z, s in zip(raw, zero, state, strict=True):
                y = b0 * (x - z) + s[0]
                s[0], s[1] = b1 * (x - z) - a1 * y + s[1], b2 * (x - z) - a2 * y
                smooth.append(y)
            recent.append(smooth[2] + smooth[5])
            if len(recent) == 100:
                mean = sum(recent) / 100.0
                spread = math.sqrt(sum((r - mean) ** 2 for r in recent) / 100.0)
                weight = mean if mean > 400.0 and spread < 0.015 * mean else weight
                recent.clear()
            drive, lead = math.hypot(*smooth[:3]), math.hypot(*smooth[3:])
            if contact < 0:
                drive_peak = max(drive_peak * 0.997, drive)
                push = max(push * 0.98, smooth[0])
                if smooth[5] < 0.1 * weight:
                    air += 1
                elif air >= 20 and push > 0.3 * weight:
                    contact, landing = frame, lead
                else:
                    air = 0
            else:
                landing = max(landing, lead)
                if frame - contact >= 100:
                    if landing > 1.3 * weight:
                        found.append((float(contact), drive_peak, landing))
                    contact, air, drive_peak = -1, 0, 0.0
    return found


def _known(path: Path) -> list[Found]:
    recording = read_recording(path)
    mounds = Mounds(setup_of(recording))
    outputs = [o for batch_ in recording.batches() for o in mounds.receive_many(batch_)]
    records = [o.record for o in outputs + mounds.finish() if isinstance(o, Pitch)]
    return [
        (r.foot_contact_frame or 0.0, r.metrics["drive_peak_n"] or 0.0,
         r.metrics["landing_peak_n"] or 0.0) for r in records
    ]  # fmt: skip


def _unlike(known: list[Found], found: list[Found]) -> int:
    """Return how many known pitches were not found, or with peaks more than 2 % off."""
    unlike = 0
    for contact, drive, landing in known:
        near = [f for f in found if abs(f[0] - contact) < 20.0]
        same = near and abs(near[0][1] / drive - 1) < 0.02 and abs(near[0][2] / landing - 1) < 0.02
        unlike += not same
    return unlike
