"""Coverage of the study bench's intervals: how often 95 % intervals hold the truth.

Simulates whole studies with known slopes and counts. Run it from the project's folder:

    python benchmarks/study_coverage.py --studies 1000

The numbers in docs/study.md come from this program. All data are invented.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from analysis.study import levels, slopes, true_means
from analysis.study.cluster_robust import Array, Labels

WITHIN, BETWEEN = 0.2, 1.0


@dataclass(frozen=True)
class Scenario:
    """Invented truth: standard deviations per step of the predictor and in the outcome's unit."""

    name: str
    pitches: tuple[int, int]
    sd_slope: float
    sd_pitcher: float
    sd_residual: float = 1.0
    sd_between: float = 3.0
    sd_within: float = 1.5


SCENARIOS = (
    Scenario("same slope, 5 pitches each", (5, 5), 0.0, 2.0),
    Scenario("same slope, 2 to 10 pitches", (2, 10), 0.0, 2.0),
    Scenario("slopes vary a little, 2 to 10", (2, 10), 0.3, 2.0),
    Scenario("slopes vary widely, 2 to 10", (2, 10), 1.0, 2.0),
    Scenario("pitchers hardly differ, 2 to 10", (2, 10), 0.3, 0.2),
)


def simulate(
    scenario: Scenario, pitchers: int, rng: np.random.Generator, *, true_mean: bool = False
) -> tuple[Labels, Array, Array]:
    """One study: labels (n,), predictor (n,), outcome (n,).

    The between-pitcher slope acts on the observed mean of the predictor, or on each pitcher's
    true mean where ``true_mean`` is set.
    """
    low, high = scenario.pitches
    counts = rng.integers(low, high + 1, pitchers)
    labels = np.repeat(np.arange(pitchers), counts)
    centre = rng.normal(0, scenario.sd_between, pitchers)
    x = centre[labels] + rng.normal(0, scenario.sd_within, len(labels))
    if not true_mean:
        centre = levels.means(x, labels)
    slope = WITHIN + rng.normal(0, scenario.sd_slope, pitchers)
    y = (
        BETWEEN * centre[labels]
        + slope[labels] * (x - centre[labels])
        + rng.normal(0, scenario.sd_pitcher, pitchers)[labels]
        + rng.normal(0, scenario.sd_residual, len(labels))
    )
    return labels, x, y


def covered(
    scenario: Scenario, pitchers: int, rng: np.random.Generator, *, true_mean: bool = False
) -> tuple[bool, bool, float, float]:
    """Whether the within and the between interval of one study hold the truth, and their widths."""
    labels, x, y = simulate(scenario, pitchers, rng, true_mean=true_mean)
    parts = levels.split({"x": x}, labels)
    blocks = slopes.Blocks(parts.within, ["x"], parts.between, ["x"])
    spread = slopes.variances(y, labels, blocks)
    inner = slopes.within(y, labels, blocks, spread)["x"]
    outer = slopes.between(levels.means(y, labels), np.bincount(labels), blocks, spread)["x"]
    if true_mean:
        known = true_means.mean_reliability(x, labels)
        if known is None:
            raise RuntimeError("the simulated pitchers do not differ")
        corrected = true_means.between_true_mean(
            y, x, labels, known=known, inner=inner, spread=spread
        )
        if corrected is None:
            raise RuntimeError("too few pitchers simulated")
        outer = corrected
    return (
        inner.low <= WITHIN <= inner.high,
        outer.low <= BETWEEN <= outer.high,
        inner.high - inner.low,
        outer.high - outer.low,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=1000)
    parser.add_argument("--pitchers", type=int, nargs="+", default=[8, 50])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cases", type=int, nargs="+", help="row numbers from 0 (default all)")
    args = parser.parse_args()
    print("| scenario | pitchers | within % | between % | width within | width between |")
    print("|---|---|---|---|---|---|")
    cases = [(s, False) for s in SCENARIOS] + [(SCENARIOS[2], True)]
    for number in args.cases if args.cases is not None else range(len(cases)):
        scenario, true_mean = cases[number]
        for pitchers in args.pitchers:
            rng = np.random.default_rng([args.seed, number, pitchers])
            rows = np.array(
                [covered(scenario, pitchers, rng, true_mean=true_mean) for _ in range(args.studies)]
            )
            inner, outer, wide_in, wide_out = rows.mean(axis=0)
            name = scenario.name + (" (true means, corrected slope)" if true_mean else "")
            print(
                f"| {name} | {pitchers} | {100 * inner:.1f} | {100 * outer:.1f} "
                f"| {wide_in:.2f} | {wide_out:.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
