"""The list of placements, and where each is in a recording."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stream.checks.evidence import Evidence, Loaded, Quiet
from stream.checks.response import in_newtons, look, response, under
from stream.checks.stretches import LOAD_CHANGE, Collector, Span
from stream.checks.survey import Steady, Survey
from stream.layout import Array, Layout, Platform
from stream.wire import ForceMessage

#: A placement stands still for at least this long, s (rod test: a second).
LEAST_S = 1.0
MOST_S = 10.0


class GridError(ValueError):
    """A list or recording that cannot be used; the text says why."""


@dataclass(frozen=True)
class Placement:
    """A known mass at a marked spot: kg, and (x, y) m in the mound frame."""

    mass_kg: float
    spot: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Measured:
    """One placement as the deck read it.

    ``added`` (channels,) is what it added to each channel, N and N m, with
    standard errors ``error``; ``force_n`` the size of the force; ``place``
    (x, y) m or None.
    """

    placement: Placement
    platform: Platform
    added: Array
    error: Array
    force_n: float
    place: Array | None


def read_placements(path: Path, layout: Layout) -> list[Placement]:
    """Return the list in a CSV file with columns mass_kg, x_m, y_m; raise :class:`GridError`."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.DictReader(file))
        found = [Placement(float(r["mass_kg"]), (float(r["x_m"]), float(r["y_m"]))) for r in rows]
    except OSError as error:
        raise GridError(f"{path}: {error.strerror}") from None
    except KeyError as error:
        raise GridError(f"{path}: the columns are mass_kg, x_m, y_m; {error} is missing") from None
    except (TypeError, ValueError, csv.Error) as error:
        raise GridError(f"{path}: not a list of numbers ({error})") from None
    for p in found:
        if not 0 < p.mass_kg < 1000 or under(layout, p.spot) is None:
            raise GridError(f"{path}: {p.mass_kg:g} kg at {p.spot} is not a mass on this deck")
    if not found:
        raise GridError(f"{path}: the list is empty")
    return found


def measure(
    layout: Layout,
    placements: list[Placement],
    messages: Callable[[], Iterator[ForceMessage]],
    gravity: float,
) -> list[Measured]:
    """Return each placement as it was read.

    The recording holds them in the order of the list, each after a stretch
    of empty deck. Raise :class:`GridError` if there are more or fewer.
    """
    survey = Survey(layout)
    for message in messages():
        survey.add(message, message.t_ns)
    steady = survey.steady(LEAST_S)
    if not steady:
        raise GridError("the recording has no steady stretch")
    pairs = _pairs(steady)
    if len(pairs) != len(placements):
        raise GridError(
            f"the list has {len(placements)} placements, the recording {len(pairs)} loads that "
            "stood still after an empty deck: note each load, and empty the deck in between"
        )
    spans = [[_span(s, survey.nominal_hz) for s in pair] for pair in pairs]
    collectors = [[Collector(layout, survey.stream, s) for s in pair] for pair in spans]
    for message in messages():
        for pair in collectors:
            for c in pair:
                c.add(message)
    found = []
    for placement, (empty, load) in zip(placements, collectors, strict=True):
        rate = survey.rate_hz()
        evidence = Evidence(
            layout,
            survey.timing(),
            Quiet(*_stretch(layout, rate, empty)),
            Loaded(*_stretch(layout, rate, load)),
            mass_kg=placement.mass_kg,
            spot=placement.spot,
            gravity=gravity,
        )
        found.append(_measured(evidence, placement))
    return found


def _pairs(steady: list[Steady]) -> list[tuple[Steady, Steady]]:
    """Each load with the empty stretch before it; the first stretch is empty."""
    zero, pairs = steady[0], []
    for s in steady[1:]:
        if np.abs(s.level - zero.level).max() > LOAD_CHANGE:
            pairs.append((zero, s))
        else:
            zero = s
    return pairs


def _span(s: Steady, rate_hz: float) -> Span:
    return Span(max(s.first, s.end - round(MOST_S * rate_hz)), s.end)


def _stretch(
    layout: Layout, rate_hz: float, collector: Collector
) -> tuple[Layout, float, int, Array]:
    got = collector.samples()
    assert got is not None  # a steady stretch has samples
    return layout, rate_hz, *got


def _measured(evidence: Evidence, placement: Placement) -> Measured:
    added, error = response(evidence)
    seen = look(in_newtons(evidence.layout), added, error)
    platform = under(evidence.layout, placement.spot)
    assert platform is not None
    return Measured(
        placement,
        platform,
        added,
        error,
        seen.size if seen else 0.0,
        seen.place if seen else None,
    )
