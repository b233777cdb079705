"""Each result in plain words, written from its own numbers, with what it does not show.

``read`` returns the same result with its ``reading`` filled in.
"""

from __future__ import annotations

from dataclasses import replace
from functools import singledispatch
from typing import TypeVar

from analysis.counted import counted
from analysis.study.agreement import AgreementResult
from analysis.study.cautions import cautions_of
from analysis.study.correlation import CorrelationResult
from analysis.study.effect_result import EffectResult, PredictorEffect, Slope
from analysis.study.names import listed, of_unit, spoken
from analysis.study.planning import PlanResult
from analysis.study.reading_measurement import (
    agreement_sentences,
    reliability_sentences,
    trace_sentences,
)
from analysis.study.reliability import ReliabilityResult
from analysis.study.table import missing_sentence, pooled_days
from analysis.study.traces import TraceResult
from analysis.study.waveforms import WaveformResult
from analysis.study.words import few_pitchers, interval, number, p_value

Readable = (
    EffectResult
    | CorrelationResult
    | ReliabilityResult
    | AgreementResult
    | TraceResult
    | WaveformResult
    | PlanResult
)
Result = TypeVar("Result", bound=Readable)


def read(result: Result) -> Result:
    """Give the result with its reading: lines on the numbers, then the cautions."""
    cautions = " ".join(cautions_of(result))
    return replace(result, reading="\n".join([*_sentences(result), cautions]))


@singledispatch
def _sentences(result: object) -> list[str]:
    raise TypeError(f"no reading is written for {type(result).__name__}")


_sentences.register(AgreementResult, agreement_sentences)
_sentences.register(ReliabilityResult, reliability_sentences)
_sentences.register(TraceResult, trace_sentences)


@_sentences.register
def _(result: EffectResult) -> list[str]:
    said = [
        f"{counted(result.n_pitches, 'pitch', 'pitches')} of "
        f"{counted(result.n_pitchers, 'pitcher')}. {missing_sentence(result.missing)}"
    ]
    said += pooled_days(
        result.missing,
        "they tell less than as many independent ones: with few pitchers the intervals are "
        "narrower than the truth.",
    )
    said += few_pitchers(result.n_pitchers)
    for effect in result.predictors:
        said += _one_predictor(result, effect)
    if result.n_tests > 1:
        said.append(
            f"{result.n_tests} slopes were tested; p values called adjusted allow for that "
            "(Holm), intervals do not."
        )
    high = [i for i in result.inflation if i.factor is not None and i.factor > 5]
    if high:
        names = ", ".join(f"{spoken(i.column)} {i.level} pitchers ({i.factor:.1f})" for i in high)
        said.append(
            f"Columns move together so closely that their slopes are hard to tell apart: {names} "
            "(variance inflation factor, above 5)."
        )
    said += _influence(result)
    said.append(f"Model: {result.variances.note}.")
    return said


def _one_predictor(result: EffectResult, effect: PredictorEffect) -> list[str]:
    x, y = spoken(effect.predictor), spoken(result.outcome)
    step, unit = f"{result.per:g}{of_unit(effect.predictor)}", of_unit(result.outcome)
    beside = (
        " with the other columns held"
        if not result.separate and len(result.predictors) + len(result.covariates) > 1
        else ""
    )
    said = []
    if effect.within.slope is None:
        said.append(f"Within a pitcher nothing can be said of {x}: {effect.within.why}.")
    else:
        said.append(
            f"Within a pitcher: on pitches where {x} is {step} above the pitcher's own mean, {y} "
            f"is on average {_change(effect.within, unit)}{beside}. {_verdict(effect.within)}"
        )
    if effect.between.slope is None:
        said.append(f"Between pitchers nothing can be said of {x}: {effect.between.why}.")
    else:
        said.append(
            f"Between pitchers: those whose mean {x} is {step} higher have {y} on average "
            f"{_change(effect.between, unit)}{beside}. {_verdict(effect.between)} This compares "
            "different people, who differ in much else; it is not advice to one pitcher."
        )
    if effect.pooled.slope is not None:
        said.append(
            f"Ignoring who threw what gives {number(effect.pooled.slope)}{unit}, a mixture of the "
            "two that answers neither question."
        )
    gap = effect.difference
    if gap.low is not None and gap.high is not None and gap.low * gap.high > 0:
        said.append("The two slopes differ by more than chance: one must not stand for the other.")
    weak = effect.mean_reliability
    if effect.between.slope is not None and (weak is None or weak < 0.9):
        share = "None" if weak is None else f"Only {100 * weak:.0f} %"
        said.append(
            f"{share} of the spread of the pitchers' mean {x} is real, the rest is pitch-to-pitch "
            f"noise, which pulls the between slope towards the within slope"
            f"{_corrected(effect.between_true_mean)}."
        )
    return said


def _change(slope: Slope, unit: str) -> str:
    if slope.slope is None:
        raise ValueError("a slope that was not estimated has no change to tell")
    side = "higher" if slope.slope >= 0 else "lower"
    size, ends = interval(slope.slope, slope.low, slope.high).split(", ")
    return f"{size.removeprefix('-')}{unit} {side} ({ends})"


def _corrected(slope: Slope) -> str:
    if slope.slope is None:
        return ""
    return f"; corrected for it, {interval(slope.slope, slope.low, slope.high)}"


def _verdict(slope: Slope) -> str:
    if slope.low is None or slope.high is None or slope.p is None:
        return ""
    p = f"p {p_value(slope.p)}"
    if slope.p_holm is not None and slope.p_holm != slope.p:
        p += f", adjusted p {p_value(slope.p_holm)}"
    if slope.low * slope.high > 0:
        return f"The interval leaves out zero ({p})."
    return (
        f"The interval includes zero ({p}), so these data do not show whether it rises or falls; "
        "that is not proof of no effect."
    )


def _influence(result: EffectResult) -> list[str]:
    changing = sorted({left.pitcher for left in result.influence if left.changes_answer})
    if changing:
        shown = ", ".join(changing[:5]) + (", ..." if len(changing) > 5 else "")
        return [
            "Leaving out one pitcher changes whether an interval includes zero for: "
            f"{shown}. The answer hangs on few people."
        ]
    if result.influence:
        unknown = " (the between slope cannot be had with one pitcher fewer)"
        known = any(left.between is not None for left in result.influence)
        return [
            "Leaving out any one pitcher does not change which intervals include zero"
            f"{'' if known else unknown}."
        ]
    return ["With two pitchers none can be left out to see what the answer hangs on."]


@_sentences.register
def _(result: CorrelationResult) -> list[str]:
    said = [
        f"Within pitchers, {listed([result.x, result.y])} correlate "
        f"{interval(result.r, result.low, result.high, digits=2)} (repeated-measures correlation, "
        f"{result.df} degrees of freedom, p {p_value(result.p)}; {result.n_pitches} pitches, "
        f"{result.n_pitchers} pitchers). {missing_sentence(result.missing)}",
        *pooled_days(result.missing, "the interval is narrower than the truth."),
        "It takes one common slope for all pitchers for granted.",
    ]
    if result.r_means is not None:
        said.append(
            f"The pitchers' means correlate {result.r_means:.2f} and all pitches together "
            f"{result.r_pooled:.2f}; those compare different people."
        )
    return said


@_sentences.register
def _(result: WaveformResult) -> list[str]:
    first, second = result.groups
    who = (
        f"{result.n_pitchers[0]} pitchers, each in both groups"
        if result.design == "paired"
        else f"{result.n_pitchers[0]} and {result.n_pitchers[1]} pitchers"
    )
    said = [
        f"Mean {result.value} curves of {first} and {second} compared over the whole movement "
        f"({who}, {result.n_curves} curves). {missing_sentence(result.missing)}"
    ]
    if not result.stretches:
        said.append(
            f"Nowhere does the difference pass what smooth random curves would reach "
            f"(greatest |t| {result.greatest_t:.2f}, limit {result.threshold:.2f}); that is not "
            "proof that the curves are the same."
        )
    for s in result.stretches:
        said.append(
            f"They differ from {s.start_percent:.0f} to {s.end_percent:.0f} % of the time "
            f"(p {p_value(s.p)} for the stretch as a whole, not for each instant in it)."
        )
    said.append("The test takes normally distributed, equally smooth curves for granted.")
    return said


@_sentences.register
def _(result: PlanResult) -> list[str]:
    wanted = number(result.wanted_half_width)
    if result.smallest is None:
        first = (
            f"None of the sizes tried gives a half width of {wanted} or less in 80 % of simulated "
            "studies."
        )
    else:
        s = result.smallest
        first = (
            f"{s.pitchers} pitchers with {s.pitches} pitches each is the smallest size tried whose "
            f"95 % interval has a half width of {wanted} or less in at least 80 % of simulated "
            f"studies ({100 * s.reaches:.0f} %); it would tell the assumed slope from zero in "
            f"{100 * s.detects:.0f} % of them."
        )
    said = [first, f"Assumptions ({result.studies} simulated studies each):", *result.stated]
    if result.assumptions.sd_slope > 0:
        said.append(
            "Where pitchers' slopes differ, more pitchers help and more pitches of the same "
            "pitchers soon do not."
        )
    said.append("If the true variances are larger, the study will be less precise than this.")
    return said
