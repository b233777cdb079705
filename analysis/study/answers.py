"""From the words of a question (parsed arguments) to its answer: result, reading and page."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import msgspec
import pandas as pd

from analysis.study import (
    agreement,
    alignment,
    correlation,
    effect,
    names,
    planning,
    reliability,
    report,
    report_measurement,
    traces,
    waveforms,
)
from analysis.study.pages import Page
from analysis.study.reading import Readable, read
from analysis.study.results import StudyError
from analysis.study.table import load, prepare


@dataclass(frozen=True)
class Answer:
    """A result with its reading, and the page that shows it."""

    result: Readable
    page: Page


def _pitches(args: argparse.Namespace) -> pd.DataFrame:
    return load(args.table, estimates=not args.without_estimates)


def _effect(args: argparse.Namespace) -> Answer:
    frame = _pitches(args)
    texts = [c for c in args.covariate if _is_text(frame, c)]
    numbers = [c for c in args.covariate if c not in texts]
    data = prepare(frame, [args.outcome, *args.predictor, *numbers], [args.pitcher, *texts])
    ask = effect.estimate_separately if args.separately else effect.estimate
    result = read(
        ask(
            data,
            args.outcome,
            args.predictor,
            args.pitcher,
            covariates=args.covariate,
            per=args.per,
        )
    )
    return Answer(result, report.effect_page(result, data, args.pitcher))


def _is_text(frame: pd.DataFrame, column: str) -> bool:
    return column in frame.columns and not pd.api.types.is_numeric_dtype(frame[column])


def _correlate(args: argparse.Namespace) -> Answer:
    data = prepare(_pitches(args), [args.x, args.y], [args.pitcher])
    result = read(correlation.estimate(data, args.x, args.y, args.pitcher))
    return Answer(result, report.correlation_page(result, data, args.pitcher))


def _reliability(args: argparse.Namespace) -> Answer:
    labels = [c for c in (args.pitcher, args.day, args.repetition) if c is not None]
    data = prepare(_pitches(args), [args.measure], labels)
    result = read(reliability.estimate(data, args.measure, args.pitcher, args.day, args.repetition))
    return Answer(result, report_measurement.reliability_page(result, data, args.pitcher))


def _agreement(args: argparse.Namespace) -> Answer:
    names.see_one_unit(args.ours, args.reference)
    labels = [] if args.pitcher is None else [args.pitcher]
    data = prepare(_pitches(args), [args.ours, args.reference], labels)
    result = read(
        agreement.estimate(data, args.ours, args.reference, args.pitcher, truth=args.truth)
    )
    return Answer(result, report_measurement.agreement_page(result, data))


def _traces(args: argparse.Namespace) -> Answer:
    theirs = args.reference_column or args.column
    columns = [args.time] if args.pulse is None else [args.time, args.pulse]
    one = prepare(load([args.ours]), [*columns, args.column]).numbers
    two = prepare(load([args.reference]), [*columns, theirs]).numbers
    align, channels = (
        (alignment.by_correlation, (args.column, theirs))
        if args.pulse is None
        else (alignment.by_pulse, (args.pulse, args.pulse))
    )
    lag = align(one[args.time], one[channels[0]], two[args.time], two[channels[1]])
    result = read(
        traces.compare(
            (one[args.time], one[args.column]),
            (two[args.time], two[theirs]),
            lag,
            ours=f"{args.column} ({args.ours.name})",
            reference=f"{theirs} ({args.reference.name})",
        )
    )
    time, ours, reference = traces.common(
        (one[args.time], one[args.column]), (lag.to_first(two[args.time]), two[theirs])
    )
    return Answer(result, report_measurement.trace_page(result, time, ours, reference))


def _waveforms(args: argparse.Namespace) -> Answer:
    waveforms.library()  # say that it is missing before reading a large table
    data = prepare(
        _pitches(args),
        [args.value, args.time],
        [args.curve, args.pitcher, args.group],
    )
    result = read(
        waveforms.estimate(
            data,
            args.value,
            time=args.time,
            curve=args.curve,
            pitcher=args.pitcher,
            group=args.group,
        )
    )
    return Answer(result, report.waveform_page(result))


def _plan(args: argparse.Namespace) -> Answer:
    taken = {} if args.like is None else _assumed(args.like)
    for name in ("slope", "sd_slope", "sd_residual", "sd_predictor", "per"):
        if getattr(args, name) is not None:
            taken[name] = getattr(args, name)
    taken.setdefault("per", 10.0)
    missing = {"slope", "sd_slope", "sd_residual", "sd_predictor"} - taken.keys()
    if missing:
        options = ", ".join("--" + name.replace("_", "-") for name in sorted(missing))
        raise StudyError(f"a plan rests on stated assumptions; still to be given: {options}")
    result = read(
        planning.estimate(
            planning.Assumptions(**taken),
            args.half_width,
            args.pitchers,
            args.pitches,
            studies=args.studies,
            seed=args.seed,
        )
    )
    return Answer(result, report.plan_page(result))


def _assumed(path: Path) -> dict[str, float]:
    """Slope and variances from an effect answer's JSON."""
    try:
        found: dict[str, Any] = msgspec.json.decode(path.read_bytes(), type=dict[str, Any])
        spread, first = found["variances"], found["predictors"][0]
        taken = {
            "slope": first["within"]["slope"],
            "sd_residual": spread["sd_residual"],
            "sd_predictor": first["sd_within"],
            "per": found["per"],
        }
        if spread["sd_slopes"]:
            taken["sd_slope"] = spread["sd_slopes"][0]
    except (OSError, msgspec.DecodeError, LookupError, TypeError) as error:
        raise StudyError(f"{path} is not the JSON of a 'study effect' answer") from error
    return {name: float(value) for name, value in taken.items() if value is not None}


QUESTIONS: Mapping[str, Callable[[argparse.Namespace], Answer]] = MappingProxyType(
    {
        "effect": _effect,
        "correlate": _correlate,
        "reliability": _reliability,
        "agreement": _agreement,
        "traces": _traces,
        "waveforms": _waveforms,
        "plan": _plan,
    }
)
