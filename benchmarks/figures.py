"""Figures: measured value beside its goal, and how times are taken on a computer with other work.

Times are processor time of this process, of works run in turn, so that what
slows one slows the others. Where works can pause, they take turns slice by
slice, and of each slice the least of all rounds counts: what disturbs a slice
adds to it and never takes away. Otherwise a figure is the median of the
rounds' ratios.
"""

from __future__ import annotations

import gc
import json
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

Work = Callable[[], object]
#: Work that pauses after each slice; every round must have the same slices.
Sliced = Callable[[], Iterator[object]]

_OVER = object()


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


def in_slices(rounds: int, *works: Sliced) -> list[float]:
    """Return the sum of each work's least times by slice (s), after a round that does not count."""
    made = [_one_round(works) for _ in range(rounds + 1)][1:]
    return [
        sum(map(min, zip(*by_round, strict=True))) * 1e-9 for by_round in zip(*made, strict=True)
    ]


def _one_round(works: Sequence[Sliced]) -> list[list[int]]:
    """Return each work's slice times, ns."""
    gc.collect()
    begun = [work() for work in works]
    times: list[list[int]] = [[] for _ in works]
    left = list(zip(begun, times, strict=True))
    while left:
        for turn in list(left):
            work, its_times = turn
            begin = time.process_time_ns()
            if next(work, _OVER) is _OVER:
                left.remove(turn)
            its_times.append(time.process_time_ns() - begin)
    return times


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
