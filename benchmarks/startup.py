"""How long the command line takes to start, in processor time of the whole process."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median

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
    rounds = 3 if quick else 7
    for what, arguments, goal in _CASES:
        pairs = [
            (_start(_BARE, folder), _start([*PROGRAM, *arguments], folder)) for _ in range(rounds)
        ]
        yield Figure(f"Start: {what}", median(own for _, own in pairs), "s", goal)
        yield Figure(
            f"Start: {what}, times a bare interpreter",
            median(own / bare for bare, own in pairs),
            "x",
        )


def _start(command: list[str], folder: Path) -> float:
    """Return the processor time of a finished process, s."""
    root = str(Path(__file__).parent.parent)
    before = os.times()
    subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
        check=False,
    )
    after = os.times()
    return (
        after.children_user + after.children_system - before.children_user - before.children_system
    )
