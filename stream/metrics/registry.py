"""The registry: each metric's key, words, unit, definition, source, span and formula."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import ModuleType
from typing import TypeVar

from stream.movement import Movement

Formula = Callable[[Movement], float | None]
SomeFormula = TypeVar("SomeFormula", bound=Formula)


class Group(StrEnum):
    """Which part of the delivery a metric tells of."""

    PUSH_OFF = "push-off"
    LANDING = "landing"
    TIMING = "timing"
    MOTION = "motion"
    STRIDE = "stride"


class Need(StrEnum):
    """What a metric needs beside the events of its span; the flag if it lacks."""

    HANDEDNESS = "handedness_unknown"
    HEIGHT = "height_unknown"


class Lack(StrEnum):
    """Why a formula has no number though all it needs is there; the flag that says so."""

    PLACE = "place_unknown"
    SHORT = "too_short"


@dataclass(frozen=True)
class Metric:
    """One metric.

    ``span`` names the two events between which samples are read: a gap
    inside makes the metric null. ``also`` are further events that the formula
    needs. ``whole_deck`` metrics do not depend on how
    the load is shared between the feet; ``placed`` ones rest on where a foot
    stands. ``lack`` is the reason that is told where the formula gives no
    number.
    """

    key: str
    label: str
    short: str
    unit: str
    definition: str
    source: str
    group: Group
    span: tuple[str, str]
    formula: Formula
    whole_deck: bool = False
    placed: bool = False
    needs: tuple[Need, ...] = ()
    also: tuple[str, ...] = ()
    lack: Lack = Lack.PLACE

    @property
    def events(self) -> tuple[str, ...]:
        """Every event without which there is no value."""
        return (*self.span, *self.also)


_BY_MODULE: dict[str, list[Metric]] = {}


def measured(
    key: str,
    *,
    label: str,
    short: str,
    unit: str,
    definition: str,
    group: Group,
    span: tuple[str, str],
    source: str = "own definition",
    whole_deck: bool = False,
    placed: bool = False,
    needs: Sequence[Need] = (),
    also: Sequence[str] = (),
    lack: Lack = Lack.PLACE,
) -> Callable[[SomeFormula], SomeFormula]:
    """Register the decorated formula as the metric ``key``."""

    def register(formula: SomeFormula) -> SomeFormula:
        entry = Metric(
            key=key,
            label=label,
            short=short,
            unit=unit,
            definition=definition,
            source=source,
            group=group,
            span=span,
            formula=formula,
            whole_deck=whole_deck,
            placed=placed,
            needs=tuple(needs),
            also=tuple(also),
            lack=lack,
        )
        _BY_MODULE.setdefault(formula.__module__, []).append(entry)
        return formula

    return register


def metrics_of(module: ModuleType) -> tuple[Metric, ...]:
    """Return the metrics that ``module`` registered, in its order."""
    return tuple(_BY_MODULE[module.__name__])
