"""A study's plots as numbers, for a screen that draws them itself.

They show what the drawings of ``plots_effect`` and ``plots_measurement`` show, with fewer
ornaments. All arrays are float64 in the columns' own units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.study import levels
from analysis.study.agreement import AgreementResult
from analysis.study.cluster_robust import Array
from analysis.study.correlation import CorrelationResult
from analysis.study.effect_result import EffectResult, PredictorEffect, Slope
from analysis.study.names import axis, comma_unit, listed, of_unit, spoken
from analysis.study.planning import PlanResult
from analysis.study.reliability import ReliabilityResult
from analysis.study.table import Prepared
from analysis.study.waveforms import WaveformResult


@dataclass(frozen=True, eq=False)
class Line:
    """A line through ``x``, ``y`` (n,); an unnamed one is an aid to the eye."""

    x: Array
    y: Array
    name: str = ""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Points ``x``, ``y`` (n,), rings (k,) that stand for means, and lines."""

    title: str
    x_label: str
    y_label: str
    x: Array
    y: Array
    rings: tuple[Array, Array] | None = None
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True)
class IntervalRow:
    """An estimate and its 95 % interval."""

    name: str
    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class Intervals:
    """Estimates on one scale."""

    title: str
    rows: tuple[IntervalRow, ...]


Shape = Cloud | Intervals
_NONE = np.empty(0)


def of_effect(result: EffectResult, data: Prepared, pitcher: str) -> list[Shape]:
    """Slopes on one scale, all pitches with the pitchers' means, and each from its own mean."""
    shapes: list[Shape] = []
    labels, _ = data.codes(pitcher)
    y = data.numbers[result.outcome]
    my = levels.means(y, labels)
    for effect in result.predictors:
        name = effect.predictor
        x = data.numbers[name]
        mx = levels.means(x, labels)
        step = f"{result.per:g}{of_unit(name)} of {spoken(name)}"
        shapes += [
            Intervals(
                f"Change of {spoken(result.outcome)}{comma_unit(result.outcome)}, per {step}",
                slope_rows(effect),
            ),
            Cloud(
                "Within: each pitcher against themselves",
                f"{axis(name)}, from the pitcher's own mean",
                f"{axis(result.outcome)}, from own mean",
                x - mx[labels],
                y - my[labels],
                lines=_sloped(
                    x - mx[labels], (0.0, 0.0), {"within": effect.within}, per=result.per
                ),
            ),
            Cloud(
                "Between: all pitches; rings are pitchers' means",
                axis(name),
                axis(result.outcome),
                x,
                y,
                (mx, my),
                _sloped(x, (mx.mean(), my.mean()), {"between": effect.between}, per=result.per)
                + _sloped(x, (x.mean(), y.mean()), {"pooled": effect.pooled}, per=result.per),
            ),
        ]
    return shapes


def slope_rows(effect: PredictorEffect) -> tuple[IntervalRow, ...]:
    """Return the slopes of one predictor that could be had."""
    named = (
        ("within a pitcher", effect.within),
        ("between pitchers", effect.between),
        ("between, true means", effect.between_true_mean),
        ("pooled", effect.pooled),
    )
    return tuple(
        IntervalRow(name, s.slope, s.low, s.high)
        for name, s in named
        if s.slope is not None and s.low is not None and s.high is not None
    )


def _sloped(
    x: Array, through: tuple[float, float], slopes: Mapping[str, Slope], per: float
) -> tuple[Line, ...]:
    ends = np.array([x.min(), x.max()])
    return tuple(
        Line(ends, through[1] + s.slope / per * (ends - through[0]), name)
        for name, s in slopes.items()
        if s.slope is not None
    )


def of_correlation(result: CorrelationResult, data: Prepared, pitcher: str) -> list[Shape]:
    """The pitches about their pitcher's mean, and the common slope."""
    labels, _ = data.codes(pitcher)
    x, y = data.numbers[result.x], data.numbers[result.y]
    dx, dy = x - levels.means(x, labels)[labels], y - levels.means(y, labels)[labels]
    ends = np.array([dx.min(), dx.max()])
    return [
        Cloud(
            "Each pitcher against themselves, one slope for all",
            f"{axis(result.x)}, from the pitcher's own mean",
            f"{axis(result.y)}, from own mean",
            dx,
            dy,
            lines=(Line(ends, result.slope * ends, f"r = {result.r:.2f}"),),
        )
    ]


def of_reliability(result: ReliabilityResult, data: Prepared, pitcher: str) -> list[Shape]:
    """Every pitch, pitchers in order of their mean."""
    labels, _ = data.codes(pitcher)
    values = data.numbers[result.measure]
    means = levels.means(values, labels)
    place = (np.argsort(np.argsort(means)) + 1).astype(np.float64)
    return [
        Cloud(
            "Every pitch; rings are pitchers' means",
            "pitchers in order of their mean",
            axis(result.measure),
            place[labels],
            values,
            (place, means),
        )
    ]


def of_agreement(result: AgreementResult, data: Prepared) -> list[Shape]:
    """Differences against means, with bias and limits."""
    ours, reference = data.numbers[result.ours], data.numbers[result.reference]
    x = (ours + reference) / 2
    ends = np.array([x.min(), x.max()])
    return [
        Cloud(
            "Differences against means",
            f"mean of {listed([result.ours, result.reference])}",
            "ours minus reference",
            x,
            ours - reference,
            lines=tuple(
                Line(ends, np.full(2, value), name)
                for name, value in (
                    ("bias", result.bias),
                    ("lower limit", result.lower_limit),
                    ("upper limit", result.upper_limit),
                )
            ),
        )
    ]


def of_traces(ours: str, reference: str, time: Array, first: Array, second: Array) -> list[Shape]:
    """Two traces on one clock."""
    lines = (Line(time, first, ours), Line(time, second, reference))
    return [Cloud("Both traces on one clock", "s", "", _NONE, _NONE, lines=lines)]


def of_waveforms(result: WaveformResult) -> list[Shape]:
    """The groups' mean curves, and the statistic with its limit."""
    percent = np.linspace(0.0, 100.0, len(result.t))
    limit = np.full(percent.size, result.threshold)
    curves = zip(result.groups, result.means, strict=True)
    return [
        Cloud(
            f"Mean curves of {spoken(result.value)}",
            "% of the curve's own time",
            axis(result.value),
            _NONE,
            _NONE,
            lines=tuple(Line(percent, np.array(mean), name) for name, mean in curves),
        ),
        Cloud(
            "Where they differ: t beyond the limit",
            "% of the curve's own time",
            "t",
            _NONE,
            _NONE,
            lines=(
                Line(percent, np.array(result.t), "t"),
                Line(percent, limit, "limit"),
                Line(percent, -limit),
            ),
        ),
    ]


def of_plan(result: PlanResult) -> list[Shape]:
    """The half width that 80 % of studies reach, a line for each number of pitches."""
    lines = []
    for pitches in sorted({s.pitches for s in result.sizes}):
        own = sorted((s.pitchers, s.half_width_80) for s in result.sizes if s.pitches == pitches)
        x, y = np.array(own, dtype=np.float64).T
        lines.append(Line(x, y, f"{pitches} pitches each"))
    return [
        Cloud(
            "Half width that 80 % of simulated studies reach",
            "pitchers",
            "half width",
            _NONE,
            _NONE,
            lines=tuple(lines),
        )
    ]
