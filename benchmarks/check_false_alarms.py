"""How often the set-up check holds something against a good feed.

Good feeds are simulated: 5 s of empty deck and 5 s of a known mass, offsets of
20 N (SD), noise drawn between 0.5 and 10 N (SD, every channel; moments times
0.3 m), a device clock up to 100 ppm off, delays with outliers. Run:

    python benchmarks/check_false_alarms.py [--checks 2100] [--seed 1]

It prints, for each check, how often it failed or warned in how many runs.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from simulators.contacts import Contact, Role
from simulators.deck import Plates
from simulators.sensor import Imperfections, Sensor
from stream.checks.evidence import Evidence
from stream.checks.registry import run
from stream.checks.stretches import collect, empty_and_loaded
from stream.checks.survey import Survey
from stream.checks.verdict import Result, Status
from stream.files import load_layout
from stream.layout import Array, Layout
from stream.movement import STANDARD_GRAVITY
from stream.wire import ForceMessage

RATE = 200.0
LAYOUTS = ("two-plates", "tiled", "four-corner")
BLOCK = 10
SECONDS = 5.5


def _mass(mass_kg: float, spot: tuple[float, float], start: float, end: float) -> Contact:
    def force(t: Array) -> Array:
        rise = np.clip((t - start) / 0.3, 0.0, 1.0)
        return np.column_stack([0 * t, 0 * t, rise * mass_kg * STANDARD_GRAVITY])

    return Contact(Role.OTHER, start, end, force, lambda t: np.tile(spot, (t.size, 1)), 0.04, 0.04)


def good_check(layout: Layout, seed: int) -> tuple[Result, ...]:
    """Return the results of one simulated set-up check of a faultless mound."""
    rng = np.random.default_rng([seed, 3])
    noise = float(np.exp(rng.uniform(np.log(0.5), np.log(10.0))))
    mass = float(rng.choice([20.0, 25.0, 40.0]))
    spot = (float(rng.uniform(0.4, 2.3)), float(rng.uniform(-0.6, 0.6)))
    t = np.arange(round(2 * SECONDS * RATE)) / RATE
    ideal = Plates(layout).read([_mass(mass, spot, SECONDS, 2 * SECONDS)], t)
    rows = Sensor(layout, Imperfections(offset_n=20.0, noise_n=noise), seed).read(ideal, t)
    drift = rng.uniform(-100e-6, 100e-6)
    feed = []
    for first in range(0, len(rows), BLOCK):
        late = 0.0002 + rng.exponential(0.0005) + (0.02 if rng.random() < 1 / 15 else 0.0)
        host = (first + BLOCK) / RATE * (1 + drift) + late
        stamp = round(first / RATE * 1e9)
        message = ForceMessage("mound-a", "s", first, stamp, RATE, rows[first : first + BLOCK])
        feed.append((message, round(host * 1e9)))
    survey = Survey(layout, live=True)
    for message, came in feed:
        survey.add(message, came)
    spans = empty_and_loaded(layout, survey.steady(1.0), RATE, mass * STANDARD_GRAVITY)
    quiet, loaded = collect(survey, (m for m, _ in feed), *spans)
    return run(
        Evidence(layout, survey.timing(), quiet, loaded, survey.reach(), mass_kg=mass, spot=spot)
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--checks", type=int, default=2100, help="how many set-up checks")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    counts: Counter[tuple[str, str, str]] = Counter()
    alarms: Counter[str] = Counter()
    runs: Counter[str] = Counter()
    for k in range(options.checks):
        name = LAYOUTS[k % len(LAYOUTS)]
        results = good_check(load_layout(name), options.seed * 1_000_000 + k)
        runs[name] += 1
        bad = [r for r in results if r.status in (Status.FAIL, Status.WARN)]
        alarms[name] += bool(bad)
        for r in results:
            counts[name, r.check, r.status.value] += 1
        for r in bad:
            print(f"{name} seed {options.seed * 1_000_000 + k}: {r.check} {r.status}: {r.say}")
    for name in LAYOUTS:
        print(f"{name}: {alarms[name]} of {runs[name]} set-up checks with a false alarm")
        missed = {c: n for (lay, c, s), n in counts.items() if lay == name and s == "not_run"}
        print(f"  not run: {missed or 'nothing'}")
    print(f"all: {alarms.total()} of {runs.total()}")


if __name__ == "__main__":
    main()
