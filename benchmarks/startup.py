"""How long the command line takes to start, in processor time of the whole process.

The least of some starts in turn with a bare interpreter: what disturbs a start
adds to it and never takes away.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from benchmarks.feeds import PROGRAM
from benchmarks.figures import Figure

_BARE = [sys.executable, "-c", "pass"]
_CASES = (
    ("moundfeed --help", ["--help"], 0.2),
    ("moundfeed replay FILE, up to opening the file", ["replay", "absent.mcap"], 0.5),
    ("moundfeed watch, up to opening the session", ["watch", "--session", "absent"], 0.5),
)


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Start each command some times, in turn with a bare interpreter."""
    rounds = 5 if quick else 15
    for what, arguments, goal in _CASES:
        starts = [
            (_start(_BARE, folder), _start([*PROGRAM, *arguments], folder)) for _ in range(rounds)
        ]
        bare, own = map(min, zip(*starts, strict=True))
        yield Figure(f"Start: {what}", own, "s", goal)
        yield Figure(f"Start: {what}, times a bare interpreter", own / bare, "x")


def _start(command: list[str], folder: Path) -> float:
    """Return the processor time of a finished process, s."""
    root = str(Path(__file__).parent.parent)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
        check=False,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
