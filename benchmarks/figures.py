"""Figures: measured value beside its goal, and how times are taken on a computer with other work.

Times are processor time of this process, of works run in turn, so that what
slows one slows the others; a figure is the median of the rounds' ratios.
"""

from __future__ import annotations

import gc
import json
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

Work = Callable[[], object]


@dataclass(frozen=True)
class Figure:
    """One measured value. ``goal`` is the most that it should be; None where there is none."""

    what: str
    value: float
    unit: str
    goal: float | None = None

    @property
    def met(self) -> bool | None:
        """Whether the goal is met."""
        return None if self.goal is None else self.value <= self.goal


def in_turn(rounds: int, *works: Work) -> list[tuple[float, ...]]:
    """Return each round's processor times (s) of ``works``, after a round that does not count."""
    return [tuple(_cost(work) for work in works) for _ in range(rounds + 1)][1:]


def ratio(times: Sequence[tuple[float, ...]], work: int, floor: int = 0) -> float:
    """Return the median over the rounds of one work's time in those of another."""
    return median(round_[work] / round_[floor] for round_ in times)


def table(figures: Iterable[Figure]) -> str:
    """Return the figures as lines of a table."""
    head = f"{'figure':<74}{'measured':>10}{'goal':>9}  {'':<6}met"
    return "\n".join([head, "-" * len(head), *map(_line, figures)])


def write_json(path: Path, figures: Iterable[Figure]) -> None:
    """Write the figures as a list of JSON objects."""
    path.parent.mkdir(parents=True, exist_ok=True)
    entries = [
        {"figure": f.what, "measured": f.value, "unit": f.unit, "goal": f.goal, "met": f.met}
        for f in figures
    ]
    path.write_text(json.dumps(entries, indent=1) + "\n")


def _cost(work: Work) -> float:
    gc.collect()
    begin = time.process_time()
    work()
    return time.process_time() - begin


def _line(f: Figure) -> str:
    goal = "" if f.goal is None else f"{f.goal:g}"
    met = {True: "yes", False: "no", None: ""}[f.met]
    return f"{f.what:<74}{f.value:>10.3g}{goal:>9}  {f.unit:<6}{met}"
