"""Which steady stretch is the empty deck and which the load; and their samples."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from stream.checks.evidence import Loaded, Quiet, Stretch
from stream.checks.quiet import PERSON_N
from stream.checks.survey import Steady, Survey
from stream.forces import platform_forces
from stream.layout import Array, Layout
from stream.wire import ForceMessage

#: A deck that reads less than this on every platform is empty beyond doubt, N.
CLEAN_N = 20.0
#: A change of any channel that is a load, N or N m.
LOAD_CHANGE = 15.0
#: Longest stretch that is looked at in full, s.
LONGEST_S = 60.0


S = TypeVar("S", bound=Stretch)


@dataclass(frozen=True)
class Span:
    """Frames ``first`` to ``end`` (exclusive)."""

    first: int
    end: int


def empty_and_loaded(
    layout: Layout, stretches: list[Steady], rate_hz: float, expected_n: float | None
) -> tuple[Span | None, Span | None]:
    """Return the spans of the empty deck and of the load, None for what there is not.

    Empty is the least loaded stretch where one reads clean, else the first
    one (a set-up check begins with an empty deck). The load is the stretch
    nearest to ``expected_n`` in force, or the longest one if no mass is known.
    """
    if not stretches:
        return None, None
    loads = [float(_platform_sizes(layout, s.level).max()) for s in stretches]
    at = int(np.argmin(loads)) if min(loads) < CLEAN_N else 0
    if loads[at] > PERSON_N:
        at = int(np.argmin(loads))
    empty = stretches[at]
    others = [s for s in stretches if _change(layout, s.level - empty.level) > LOAD_CHANGE]
    if not others:
        return _span(empty, rate_hz), None
    if expected_n is None:
        chosen = max(others, key=lambda s: s.end - s.first)
    else:
        weight = expected_n
        chosen = min(others, key=lambda s: _unlike(layout, s.level - empty.level, weight))
    return _span(empty, rate_hz), _span(chosen, rate_hz)


def _platform_sizes(layout: Layout, level: Array) -> Array:
    force = platform_forces(layout, level[None, :]).force[0]
    return np.asarray(np.linalg.norm(force, axis=1))


def _change(layout: Layout, added: Array) -> float:
    used = [c for p in layout.platforms for c in p.channels]
    return float(np.abs(added[used]).max())


def _unlike(layout: Layout, added: Array, expected_n: float) -> float:
    size = float(_platform_sizes(layout, added).sum())
    return abs(float(np.log(max(size, 1.0) / expected_n)))


def _span(s: Steady, rate_hz: float) -> Span:
    most = round(LONGEST_S * rate_hz)
    return Span(s.first, min(s.end, s.first + most))


class Collector:
    """Keeps the raw samples of one span of one stream as they pass."""

    def __init__(self, layout: Layout, stream: str | None, span: Span) -> None:
        self._layout = layout
        self._stream = stream
        self._span = span
        self._next = span.first
        self._rows: list[Array] = []
        self._frames: list[Array] = []

    def add(self, message: ForceMessage) -> None:
        """Take what belongs to the span."""
        if message.stream != self._stream:
            return
        first, end = message.first_frame, message.first_frame + len(message.samples)
        low, high = max(first, self._next), min(end, self._span.end)
        if low < high:
            self._rows.append(np.asarray(message.samples[low - first : high - first], float))
            self._frames.append(np.arange(low, high, dtype=float))
            self._next = high

    def samples(self) -> tuple[int, Array] | None:
        """Return the first frame and the samples (n, channels), None where there are none.

        Lost frames are filled along a straight line, so that time keeps its step.
        """
        if not self._rows:
            return None
        rows, frames = np.concatenate(self._rows), np.concatenate(self._frames)
        every = np.arange(frames[0], frames[-1] + 1)
        if len(every) != len(frames):
            rows = np.column_stack([np.interp(every, frames, column) for column in rows.T])
        return int(frames[0]), rows


def collect(
    survey: Survey,
    messages: Iterable[ForceMessage],
    empty: Span | None,
    loaded: Span | None,
) -> tuple[Quiet | None, Loaded | None]:
    """Return the two stretches with their samples from a second reading of the feed."""
    collectors = [
        Collector(survey.layout, survey.stream, span) if span else None for span in (empty, loaded)
    ]
    for message in messages:
        for c in collectors:
            if c is not None:
                c.add(message)
    rate = survey.rate_hz()
    quiet = _stretch(Quiet, survey.layout, rate, collectors[0])
    load = _stretch(Loaded, survey.layout, rate, collectors[1])
    return quiet, load


def _stretch(
    kind: type[S], layout: Layout, rate_hz: float, collector: Collector | None
) -> S | None:
    got = collector.samples() if collector is not None else None
    return None if got is None else kind(layout, rate_hz, got[0], got[1])
