"""How well pitches are found and measured, on simulated sessions the detector was not tuned on.

    python -m benchmarks.accuracy [--sessions 13] [--pitches 40] [--layout two-plates]
                                  [--noise 0] [--first-seed 1000]

Invented sessions with every style, both hands, 45 to 130 kg, all the traffic
between pitches; noiseless unless told otherwise. Prints the table of
docs/accuracy.md.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from simulators.deck import Plates
from simulators.scenario import Plan, compose
from simulators.sensor import Imperfections, Sensor
from simulators.timeline import RATE_HZ, Scenario
from stream.actions import ChoosePitcher, encode_action
from stream.files import load_layout
from stream.layout import Layout
from stream.metrics import METRICS
from stream.outputs import Output, Pitch, PitchRecord
from stream.pipeline import Pipeline
from stream.wire import ForceMessage, Packet, TopicKind, encode_force, topic

SOURCE = "bench"
BLOCK = 1000
#: A told contact within this of a true one is that pitch, s.
SAME_S = 0.25


@dataclass
class Tally:
    """What came out over all sessions."""

    true_pitches: int = 0
    found: int = 0
    extra: int = 0
    feed_s: float = 0.0
    contact_ms: list[float] = field(default_factory=list)
    weight: list[float] = field(default_factory=list)
    relative: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    absolute: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))


def packets(layout: Layout, scenario: Scenario, noise_n: float) -> Iterator[Packet]:
    """Render a session block by block, with the operator's choices of pitcher."""
    plates = Plates(layout)
    sensor = Sensor(layout, Imperfections(offset_n=20.0, noise_n=noise_n), scenario.seed)
    frames = round(scenario.duration * RATE_HZ)
    chosen = list(scenario.chosen)
    for start in range(0, frames, BLOCK):
        t = np.arange(start, min(frames, start + BLOCK)) / RATE_HZ
        t_ns = round(float(t[0]) * 1e9)
        while chosen and chosen[0].time <= t[-1]:
            action = ChoosePitcher(source=SOURCE, t_ns=t_ns, pitcher=chosen.pop(0).pitcher)
            yield Packet(topic(SOURCE, TopicKind.OPERATOR), encode_action(action), t_ns)
        samples = sensor.read(plates.read(scenario.contacts, t), t)
        message = ForceMessage(SOURCE, "s", start, t_ns, RATE_HZ, samples)
        yield Packet(topic(SOURCE, TopicKind.FORCE), encode_force(message), t_ns)


def run(layout: Layout, plan: Plan, noise_n: float, tally: Tally) -> None:
    """Measure one session and add it to ``tally``."""
    scenario = compose(plan, layout.deck)
    core = Pipeline(SOURCE, layout, roster=scenario.roster)
    out: list[Output] = []
    for packet in packets(layout, scenario, noise_n):
        out += core.receive(packet)
    out += core.finish()
    told = [o.record for o in out if isinstance(o, Pitch)]
    truth = [(thrown.contact, thrown) for thrown in scenario.pitches]
    tally.true_pitches += len(truth)
    tally.feed_s += scenario.duration
    free = dict(enumerate(truth))
    for record in told:
        at = (record.foot_contact_frame or -math.inf) / RATE_HZ
        match = min(free, key=lambda k: abs(free[k][0] - at), default=None)
        if match is None or abs(free[match][0] - at) > SAME_S:
            tally.extra += 1
            continue
        contact, thrown = free.pop(match)
        tally.found += 1
        compare(record, contact, thrown.truth().metrics, thrown.truth().body_weight_n, tally)
    for _, (contact, _) in free.items():
        print(f"missed: seed {plan.seed}, contact at {contact:.2f} s")


def compare(
    record: PitchRecord,
    contact: float,
    metrics: dict[str, float | None],
    weight: float,
    tally: Tally,
) -> None:
    """Add one pitch's errors."""
    assert record.foot_contact_frame is not None
    tally.contact_ms.append((record.foot_contact_frame / RATE_HZ - contact) * 1e3)
    tally.weight.append((record.body_weight_n or math.nan) / weight - 1.0)
    for key, value in record.metrics.items():
        true = metrics.get(key)
        if value is None or true is None:
            continue
        tally.absolute[key].append(value - true)
        if true:
            tally.relative[key].append((value - true) / abs(true))


def table(tally: Tally) -> str:
    """Return the accuracy table as Markdown."""
    contact, weight = np.abs(tally.contact_ms), 100.0 * np.abs(tally.weight)
    lines = [
        f"{tally.found} of {tally.true_pitches} pitches found, {tally.extra} counted that were "
        f"none, in {tally.feed_s / 3600:.2f} h of feed.",
        "",
        "| what | median error | 95th percentile | worst |",
        "|---|---|---|---|",
        f"| foot contact, ms | {np.median(contact):.2f} | {np.quantile(contact, 0.95):.2f} | "
        f"{contact.max():.2f} |",
        f"| body weight, % | {np.median(weight):.3f} | {np.quantile(weight, 0.95):.3f} | "
        f"{weight.max():.3f} |",
    ]
    for entry in METRICS:
        # Quantities around zero have no meaningful share: told in their own unit.
        share = entry.unit in ("N", "% BW", "N s", "% BW/s", "m/s", "W/kg", "J", "m")
        near_zero = entry.key in ("stride_across_m", "drive_vertical_impulse_ns")
        if share and not near_zero:
            errors, unit = 100.0 * np.abs(tally.relative[entry.key]), "%"
        else:
            errors, unit = np.abs(tally.absolute[entry.key]), entry.unit or "-"
        if len(errors):
            lines.append(
                f"| `{entry.key}`, {unit} | {np.median(errors):.3f} | "
                f"{np.quantile(errors, 0.95):.3f} | {errors.max():.3f} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Run the sessions and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=13)
    parser.add_argument("--pitches", type=int, default=40)
    parser.add_argument("--layout", default="two-plates")
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument("--first-seed", type=int, default=1000)
    options = parser.parse_args()
    layout, tally = load_layout(options.layout), Tally()
    for k in range(options.sessions):
        plan = Plan(options.first_seed + k, options.pitches, pitchers=4, traffic=1.0, wide=True)
        run(layout, plan, options.noise, tally)
    print(table(tally))


if __name__ == "__main__":
    main()
