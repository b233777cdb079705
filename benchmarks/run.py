"""Speed: every figure beside its goal.

``python -m benchmarks.run [--quick] [--only TOPIC ...] [--hours 24]`` prints a
table and writes build/benchmarks.json. What is measured and what limits it:
docs/performance.md. Only goals say yes or no; a computer that is busy with
other work spoils the live ones.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from benchmarks import (
    alternatives,
    growth,
    latency,
    live,
    mounds,
    replay_cost,
    sessions,
    startup,
)
from benchmarks.figures import Figure, table, write_json

OUT = Path("build/benchmarks.json")
Topic = Callable[..., Iterator[Figure]]


def main() -> None:
    """Measure what is asked for."""
    parser = argparse.ArgumentParser(description="Speed: every figure beside its goal.")
    parser.add_argument("--quick", action="store_true", help="a taste: short feeds, few rounds")
    parser.add_argument("--hours", type=float, default=6.0, help="longest recording (6)")
    parser.add_argument("--pitches", type=int, default=1000, help="largest session (1000)")
    parser.add_argument("--only", nargs="+", metavar="TOPIC", help="these topics only")
    options = parser.parse_args()
    topics: dict[str, Topic] = {
        "replay": replay_cost.figures,
        "start": startup.figures,
        "latency": latency.figures,
        "alternatives": alternatives.figures,
        "growth": partial(growth.figures, longest_h=options.hours),
        "sessions": partial(sessions.figures, most_pitches=options.pitches),
        "live": live.figures,
        "mounds": mounds.figures,
    }
    wanted = options.only or list(topics)
    if unknown := set(wanted) - set(topics):
        parser.error(f"no topic {', '.join(sorted(unknown))}; there are {', '.join(topics)}")
    found: list[Figure] = []
    for name in wanted:
        with tempfile.TemporaryDirectory(prefix="bench-") as folder:
            part = list(topics[name](Path(folder), quick=options.quick))
        print(table(part), end="\n\n", flush=True)
        found += part
        write_json(OUT, found)
    print(f"{sum(f.met is False for f in found)} of {len(found)} figures miss their goal; {OUT}")


if __name__ == "__main__":
    main()
