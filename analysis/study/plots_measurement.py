"""Plots for reliability, agreement, traces, waveforms and planning."""

from __future__ import annotations

import numpy as np

from analysis.study import levels
from analysis.study.agreement import AgreementResult
from analysis.study.cluster_robust import Array
from analysis.study.names import axis as axis_words
from analysis.study.names import comma_unit, listed, spoken
from analysis.study.planning import PlanResult
from analysis.study.plots import GREY, LIGHT, canvas
from analysis.study.reliability import ReliabilityResult
from analysis.study.table import Prepared
from analysis.study.traces import TraceResult
from analysis.study.waveforms import WaveformResult

_DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 3)))


def pitchers_in_order(result: ReliabilityResult, data: Prepared, pitcher: str) -> str:
    """Pitches of every pitcher in order of the mean; and reliability of a mean by its pitches."""
    labels, names = data.codes(pitcher)
    values = data.numbers[result.measure]
    means = levels.means(values, labels)
    place = np.argsort(np.argsort(means))
    with canvas(2, height=3.6) as made:
        left, right = made.axes
        left.plot(place[labels], values, "o", color=GREY, markersize=3)
        left.plot(place, means, "_", color="black", markersize=9, markeredgewidth=2)
        if len(names) <= 30:
            left.set_xticks(place, names, rotation=90, fontsize=7)
        else:
            left.set_xticks([])
        left.set(xlabel="pitchers in order of their mean (bars)", ylabel=axis_words(result.measure))
        top = max(
            [10, *(n.pitches for n in result.pitches_needed if n.pitches and n.pitches <= 60)]
        )
        count = np.arange(1, top + 1)
        for icc, dash, width in (
            (result.icc, "-", 2.0),
            (result.low, ":", 1.0),
            (result.high, ":", 1.0),
        ):
            single = max(icc, 0.0)
            right.plot(
                count,
                count * single / (1 + (count - 1) * single),
                dash,
                color="black",
                linewidth=width,
            )
        right.axhline(0.9, color=GREY, linewidth=0.8, linestyle="--")
        right.set(xlabel="pitches in the mean", ylabel="reliability of the mean", ylim=(0, 1.02))
        within = "within one day; " if result.between_days else ""
        right.set_title(f"{within}dotted: 95 % interval; dashed: 0.9", fontsize=8)
    return made.svg


def difference_against_mean(result: AgreementResult, data: Prepared) -> str:
    """Differences against means with bias, limits, and the interval of each as a band."""
    a, b = data.numbers[result.ours], data.numbers[result.reference]
    limits = result.limits
    with canvas(height=3.8, width=6.2) as made:
        axis = made.axes[0]
        for value, low, high, dash, text in (
            (limits.bias, limits.bias_low, limits.bias_high, "-", "bias"),
            (
                limits.lower_limit,
                limits.lower_limit_low,
                limits.lower_limit_high,
                "--",
                "lower limit",
            ),
            (
                limits.upper_limit,
                limits.upper_limit_low,
                limits.upper_limit_high,
                "--",
                "upper limit",
            ),
        ):
            axis.axhspan(low, high, color=LIGHT, linewidth=0)
            axis.axhline(value, color="black", linestyle=dash)
            axis.annotate(
                text,
                (1.01, value),
                xycoords=("axes fraction", "data"),
                fontsize=8,
                va="center",
                ha="left",
            )
        axis.axhline(0, color=GREY, linewidth=0.8, linestyle=":")
        axis.plot((a + b) / 2, a - b, "o", color="black", markersize=3.5, markerfacecolor="white")
        if (
            result.proportional is not None
            and result.proportional.low * result.proportional.high > 0
        ):
            middle = (a + b) / 2
            ends = np.array([middle.min(), middle.max()])
            axis.plot(
                ends,
                limits.bias + result.proportional.slope * (ends - middle.mean()),
                "-.",
                color="black",
            )
        axis.set(
            xlabel=f"mean of {listed([result.ours, result.reference])}{comma_unit(result.ours)}",
            ylabel=f"{spoken(result.ours)} - {spoken(result.reference)}{comma_unit(result.ours)}",
        )
    return made.svg


def overlay(result: TraceResult, time: Array, ours: Array, reference: Array) -> str:
    """Both traces on one clock, times (n,), and their difference below."""
    with canvas(1, 2, height=4.6) as made:
        upper, lower = made.axes
        upper.plot(time, reference, color="0.75", linewidth=4, label=result.reference)
        upper.plot(time, ours, color="black", linewidth=1.2, label=result.ours)
        upper.legend(frameon=False)
        lower.plot(time, ours - reference, color="black", linewidth=1)
        lower.axhline(0, color=GREY, linewidth=0.8, linestyle=":")
        upper.set_ylabel("value, unit of the files")
        lower.set(xlabel="time, s", ylabel="ours - reference")
    return made.svg


def curves(result: WaveformResult) -> str:
    """Mean curves of both groups, and t with its limit; stretches that differ are shaded."""
    percent = np.linspace(0, 100, len(result.t))
    with canvas(1, 2, height=4.8) as made:
        upper, lower = made.axes
        for mean, name, dash in zip(result.means, result.groups, ("-", "--"), strict=True):
            upper.plot(percent, mean, dash, color="black", label=name)
        upper.legend(frameon=False)
        upper.set_ylabel(axis_words(result.value))
        lower.plot(percent, result.t, color="black")
        for limit in (-result.threshold, result.threshold):
            lower.axhline(limit, color=GREY, linestyle="--", linewidth=0.9)
        for axis in (upper, lower):
            for stretch in result.stretches:
                axis.axvspan(stretch.start_percent, stretch.end_percent, color=LIGHT, linewidth=0)
        lower.set(xlabel="% of the movement", ylabel="t (dashed: limit)")
    return made.svg


def half_widths(result: PlanResult) -> str:
    """Half width reached in 80 % of simulated studies, by pitches and pitchers."""
    with canvas(height=3.6, width=5.6) as made:
        axis = made.axes[0]
        counts = sorted({size.pitchers for size in result.sizes})
        for i, count in enumerate(counts):
            rows = [size for size in result.sizes if size.pitchers == count]
            axis.plot(
                [size.pitches for size in rows],
                [size.half_width_80 for size in rows],
                linestyle=_DASHES[i % len(_DASHES)],
                marker="osD^v<"[i % 6],
                color="black",
                markerfacecolor="white",
                label=f"{count} pitchers",
            )
        axis.axhline(result.wanted_half_width, color=GREY, linewidth=1)
        axis.annotate(
            "wanted",
            (1.0, result.wanted_half_width),
            xycoords=("axes fraction", "data"),
            ha="right",
            va="bottom",
            fontsize=8,
        )
        axis.set(xlabel="pitches each", ylabel="half width of the 95 % interval")
        axis.set_ylim(bottom=0)
        axis.legend(frameon=False, fontsize=8)
    return made.svg
