"""Plots for effects and correlation: within beside between, never mixed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from analysis.study import levels
from analysis.study.cluster_robust import Array, Labels
from analysis.study.correlation import CorrelationResult
from analysis.study.effect_result import EffectResult, PredictorEffect, Slope
from analysis.study.names import axis as axis_words
from analysis.study.names import comma_unit, of_unit, spoken
from analysis.study.plots import GREY, Canvas, canvas, interval_rows, spread_over
from analysis.study.points import slope_rows
from analysis.study.table import Prepared

_MARKS = "osD^v<>PX*"
#: Pitchers of a key: each has a shape of its own.
MOST_IN_KEY = len(_MARKS)
#: Dots so short that the line is no other plot's dashes.
_WITHIN = (0, (1, 1))


def two_levels(result: EffectResult, effect: PredictorEffect, data: Prepared, pitcher: str) -> str:
    """All pitches with each pitcher's own line and the line of the means; then deviations only."""
    labels, _ = data.codes(pitcher)
    x, y = data.numbers[effect.predictor], data.numbers[result.outcome]
    with canvas(2, height=3.9) as made:
        left, right = made.axes
        _cloud(left, x, y, labels)
        mx, my = levels.means(x, labels), levels.means(y, labels)
        if effect.within.slope is not None:
            for i in range(len(mx)):
                own = x[labels == i]
                ends = np.array([own.min(), own.max()])
                left.plot(
                    ends,
                    my[i] + effect.within.slope / result.per * (ends - mx[i]),
                    color="black",
                    linewidth=1.3,
                    linestyle=_WITHIN,
                    label="" if i else "within each pitcher",
                )
        left.plot(mx, my, "o", color="white", markeredgecolor="black", markersize=7)
        _line(left, x, effect.between, result.per, (mx.mean(), my.mean()), "-", "between pitchers")
        _line(left, x, effect.pooled, result.per, (x.mean(), y.mean()), "--", "pooled")
        left.set(xlabel=axis_words(effect.predictor), ylabel=axis_words(result.outcome))
        left.set_title("Between: pitchers' means (rings)", fontsize=10)
        dx, dy = x - mx[labels], y - my[labels]
        _cloud(right, dx, dy, labels)
        _line(right, dx, effect.within, result.per, (0.0, 0.0), _WITHIN, "within a pitcher")
        right.axhline(0, color=GREY, linewidth=0.6, linestyle=":")
        right.axvline(0, color=GREY, linewidth=0.6, linestyle=":")
        right.set(
            xlabel=f"{axis_words(effect.predictor)},\nfrom the pitcher's own mean",
            ylabel=f"{axis_words(result.outcome)}, from own mean",
        )
        right.set_title("Within: each pitcher against themselves", fontsize=10)
        for axis in (left, right):
            if axis.get_legend_handles_labels()[0]:
                axis.legend(fontsize=8, loc="best", framealpha=0.9, edgecolor="white")
        _key(made, data.codes(pitcher)[1])
    return made.svg


def key_words(data: Prepared, pitcher: str) -> str:
    """Say what the shapes of points mean where there are too many for a key."""
    if len(data.codes(pitcher)[1]) <= MOST_IN_KEY:
        return ""
    return " Shape and shade of a point tell pitchers apart, where they do not recur."


def _key(made: Canvas, names: Sequence[str]) -> None:
    """Put a key of the pitchers' shapes below the plots."""
    if len(names) > MOST_IN_KEY:
        return
    shades = spread_over(len(names))
    handles = [
        Line2D([], [], linestyle="", marker=mark, color=str(shade), markersize=4, label=name)
        for name, mark, shade in zip(names, _MARKS, shades, strict=False)
    ]
    made.figure.legend(
        handles=handles, loc="outside lower center", ncols=5, fontsize=8, frameon=False
    )


def _cloud(axis: Axes, x: Array, y: Array, labels: Labels) -> None:
    shades = spread_over(int(labels.max()) + 1)
    for i, shade in enumerate(shades):
        own = labels == i
        axis.plot(
            x[own], y[own], _MARKS[i % len(_MARKS)], color=str(shade), markersize=3, alpha=0.7
        )


def _line(
    axis: Axes,
    x: Array,
    slope: Slope,
    per: float,
    through: tuple[float, float],
    dash: str | tuple[int, tuple[int, int]],
    name: str,
) -> None:
    if slope.slope is None:
        return
    ends = np.array([x.min(), x.max()])
    axis.plot(
        ends,
        through[1] + slope.slope / per * (ends - through[0]),
        linestyle=dash,
        color="black",
        linewidth=2,
        label=name,
    )


def _slope_words(result: EffectResult, effect: PredictorEffect) -> str:
    y, x = result.outcome, effect.predictor
    return f"change of {spoken(y)}{comma_unit(y)}, per {result.per:g}{of_unit(x)} of {spoken(x)}"


def slopes_side_by_side(result: EffectResult, effect: PredictorEffect) -> str:
    """Within, between and pooled with their intervals on one scale."""
    rows = [(r.name, r.estimate, r.low, r.high) for r in slope_rows(effect)]
    with canvas(height=0.7 + 0.38 * len(rows)) as made:
        interval_rows(
            made.axes[0],
            rows,
            _slope_words(result, effect),
        )
    return made.svg


def left_out(result: EffectResult, effect: PredictorEffect) -> str:
    """Both slopes with each pitcher left out; the full answer and its interval as a band."""
    rows = [r for r in result.influence if r.predictor == effect.predictor]
    kinds = [k for k in ("within", "between") if any(getattr(r, k) is not None for r in rows)]
    with canvas(
        len(kinds), height=max(2.2, 0.8 + 0.13 * len(rows)), width=max(5.2, 3.6 * len(kinds))
    ) as made:
        for axis, kind in zip(made.axes, kinds, strict=True):
            full: Slope = getattr(effect, kind)
            values = [getattr(r, kind) for r in rows]
            if full.slope is None or full.low is None or full.high is None:
                axis.text(0.5, 0.5, f"{kind}: not estimated", ha="center", transform=axis.transAxes)
                axis.set_axis_off()
                continue
            axis.axvspan(full.low, full.high, color="0.92")
            axis.axvline(full.slope, color="black", linewidth=1)
            axis.axvline(0, color=GREY, linewidth=0.8, linestyle=":")
            for i, (row, value) in enumerate(zip(rows, values, strict=True)):
                if value is not None:
                    face = "black" if row.changes_answer else "white"
                    axis.plot(value, i, "o", color="black", markerfacecolor=face, markersize=4)
            axis.set_yticks(range(len(rows)), [r.pitcher for r in rows], fontsize=6)
            axis.set_ylim(len(rows) - 0.5, -0.5)
            axis.set_title(f"{kind}, without ...", fontsize=10)
        made.figure.supxlabel(_slope_words(result, effect), fontsize=9)
    return made.svg


def parallel_lines(result: CorrelationResult, data: Prepared, pitcher: str) -> str:
    """Each pitcher's pitches with the one common slope."""
    labels, _ = data.codes(pitcher)
    x, y = data.numbers[result.x], data.numbers[result.y]
    with canvas(height=3.6, width=5.2) as made:
        axis = made.axes[0]
        _cloud(axis, x, y, labels)
        for i in range(int(labels.max()) + 1):
            own = labels == i
            ends = np.array([x[own].min(), x[own].max()])
            axis.plot(
                ends,
                y[own].mean() + result.slope * (ends - x[own].mean()),
                color="black",
                linewidth=1.3,
                linestyle=_WITHIN,
            )
        axis.set(xlabel=axis_words(result.x), ylabel=axis_words(result.y))
        axis.set_title(f"One slope for all pitchers, r = {result.r:.2f}", fontsize=10)
        _key(made, data.codes(pitcher)[1])
    return made.svg
