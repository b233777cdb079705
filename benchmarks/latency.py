"""How late the foot contact and the pitch record come after the movement itself.

Counted in the feed's own time, message by message: from the true moment (the
simulator's) to the last frame of the message that brought the answer. What
the processor needs for a message is beside it.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

from benchmarks.feeds import percentile, simulated
from benchmarks.figures import Figure
from stream.outputs import FootContact, Pitch
from stream.pipeline import Pipeline
from stream.recording.reader import read_recording
from stream.recording.replay import setup_of

BLOCK = 2
RATE_HZ = 200.0
#: An answer this near to a true contact is its, frames.
_NEAR = 50.0


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Feed an invented session in 2-frame messages, one at a time."""
    pitches = 8 if quick else 60
    truth = folder / "truth.jsonl"
    path = simulated(
        folder / "latency.mcap", "--block", str(BLOCK), "--quick", "--truth", str(truth),
        "--pitches", str(pitches), "--seed", "77",
    )  # fmt: skip
    told = map(json.loads, truth.read_text().splitlines())
    true = [t for t in told if "foot_contact_frame" in t]  # the rest is what was no pitch
    contacts = [t["foot_contact_frame"] for t in true]
    braked = {c: c + t["events_s"]["brake_end"] * RATE_HZ
              for c, t in zip(contacts, true, strict=True)}  # fmt: skip
    contact_ms: list[float] = []
    record_s: list[float] = []
    cost_ms: list[float] = []
    recording = read_recording(path)
    setup = setup_of(recording)
    core = Pipeline(
        "mound-a", setup.layout, setup.settings, setup.roster, pitcher=setup.start.pitcher
    )
    for packet in recording.packets():
        begin = time.process_time_ns()
        outputs = core.receive(packet)
        cost_ms.append((time.process_time_ns() - begin) * 1e-6)
        for output in outputs:
            last = core.continuity.expected - 1
            if isinstance(output, FootContact):
                near = min(contacts, key=lambda c: abs(c - output.frame))
                if abs(near - output.frame) < _NEAR:
                    contact_ms.append((last - near) / RATE_HZ * 1e3)
            elif isinstance(output, Pitch):
                frame = output.record.foot_contact_frame or 0.0
                near = min(contacts, key=lambda c: abs(c - frame))
                record_s.append((last - braked[near]) / RATE_HZ)
    yield Figure("Pitches announced of those thrown, share missing",
                 1.0 - len(contact_ms) / pitches, "", 0.0)  # fmt: skip
    yield Figure("Foot contact told, after the true contact, 2-frame messages, p99",
                 percentile(contact_ms, 0.99), "ms", 25.0)  # fmt: skip
    yield Figure("Pitch record, after the true brake end, p99",
                 percentile(record_s, 0.99), "s", 0.3)  # fmt: skip
    yield Figure("Processor time of a 2-frame message in the core, p99.9",
                 percentile(cost_ms, 0.999), "ms")  # fmt: skip
    yield Figure("Processor time of the costliest message (measures a pitch)", max(cost_ms), "ms")
