"""Plain words for the questions about the instrument: reliability, agreement, traces."""

from __future__ import annotations

from analysis.counted import counted
from analysis.study.agreement import AgreementResult
from analysis.study.alignment import PulseAlignment, PulseError
from analysis.study.names import label, of_unit, spoken
from analysis.study.reliability import BetweenDays, ReliabilityResult
from analysis.study.table import missing_sentence, pooled_days
from analysis.study.traces import TraceResult
from analysis.study.words import (
    alike,
    few_pitchers,
    interval,
    interval_ends,
    number,
    p_value,
)

_DESIGNS = {
    "single": "each pair taken as a separate subject",
    "varying": "several pairs of each pitcher while the true value changes",
    "constant": "repeats of one true value for each pitcher",
}


def reliability_sentences(result: ReliabilityResult) -> list[str]:
    """Within-day reliability, what change is real, how many pitches, and between days."""
    where = "one day" if result.between_days else "the pitches given"
    unit = of_unit(result.measure)
    said = [
        f"{label(result.measure)}: {counted(result.n_pitches, 'pitch', 'pitches')} of "
        f"{counted(result.n_pitchers, 'pitcher')}. {missing_sentence(result.missing)}",
        *(
            []
            if result.between_days
            else pooled_days(
                result.missing,
                "name the day's column (--day session): without it the error is of no one day.",
            )
        ),
        *few_pitchers(result.n_pitchers),
        f"Within {where}, one pitch tells pitchers apart with {result.form} "
        f"{interval(result.icc, result.low, result.high, digits=2)}.",
        f"One pitch is off the pitcher's own mean by {number(result.sem)}{unit} typically (typical "
        "error, also called standard error of measurement; 95 % interval "
        f"{interval_ends(result.sem_low, result.sem_high)}"
        + (f"; {result.cv_percent:.1f} % of the mean" if result.cv_percent is not None else "")
        + f"). Two single pitches must differ by more than {number(result.mdc95)}{unit} "
        "before the change is more than noise, 19 times in 20 (smallest detectable change, also "
        "called minimal detectable change).",
    ]
    needed = [
        f"{n.pitches} for {n.reliability:g}" for n in result.pitches_needed if n.pitches is not None
    ]
    if needed:
        said.append(
            f"Pitches whose mean reaches a reliability within {where}: {', '.join(needed)}."
        )
    else:
        said.append(
            "Pitchers do not differ beyond pitch-to-pitch noise, so no number of pitches can be "
            "named."
        )
    if result.between_days is None:
        said.append(
            "From one day to another the error may be larger; name the day's column to see it."
        )
    else:
        said += _between_days(result.between_days, unit)
    if result.forms:
        forms = "; ".join(
            f"{f.form} {interval(f.icc, f.low, f.high, digits=2)}" for f in result.forms
        )
        said.append(f"All forms for the named repetitions: {forms}.")
    said.append("An ICC depends on how different these pitchers are; the typical error less.")
    return said


_NO_MORE_THAN_NOISE = (
    "The days' means differ no more than pitches alone would make them, so this says that days "
    "could not be seen to differ, not that they are the same."
)


def _between_days(days: BetweenDays, unit: str) -> list[str]:
    one, mean = days.icc, days.icc_day_mean
    of_mean = interval(mean.estimate, mean.low, mean.high, digits=2)
    return [
        f"Between days: one pitch on each day has ICC "
        f"{interval(one.estimate, one.low, one.high, digits=2)}, and the mean of about "
        f"{days.pitches_per_day:.1f} pitches {of_mean}.",
        f"A day's mean must change by more than {number(days.mdc95_day_mean)}{unit} to be more "
        f"than noise (one pitch: {number(days.mdc95)}{unit}). SD of pitchers "
        f"{number(days.sd_pitcher)}, of days {number(days.sd_day)}, of pitches "
        f"{number(days.sd_pitch)}." + ("" if days.sd_day > 0.0 else f" {_NO_MORE_THAN_NOISE}"),
    ]


def agreement_sentences(result: AgreementResult) -> list[str]:
    """Bias, limits, and whether the difference grows with the size."""
    limits = result.limits
    side = "above" if result.bias >= 0 else "below"
    zero = limits.bias_low * limits.bias_high <= 0
    said = [
        f"{counted(result.n, 'pair')}"
        + (f" of {counted(result.n_pitchers, 'pitcher')}" if result.n_pitchers else "")
        + f" ({_DESIGNS[result.design]}). {missing_sentence(result.missing)}",
        f"{label(result.ours)} reads {number(abs(result.bias))}{of_unit(result.ours)} {side} "
        f"{spoken(result.reference)} on average "
        f"(bias {interval(limits.bias, limits.bias_low, limits.bias_high)}"
        + ("; the interval includes zero)." if zero else ")."),
        "19 of 20 single differences are expected between "
        f"{alike(result.lower_limit, limits.lower_limit_low, limits.lower_limit_high)[0]} (95 % "
        f"interval {interval_ends(limits.lower_limit_low, limits.lower_limit_high)}) and "
        f"{alike(result.upper_limit, limits.upper_limit_low, limits.upper_limit_high)[0]} "
        f"({interval_ends(limits.upper_limit_low, limits.upper_limit_high)}). {result.outside} of "
        f"the {result.n} lie outside.",
    ]
    trend = result.proportional
    if trend is not None and trend.low * trend.high > 0:
        said.append(
            f"The difference changes with the size of the value: by "
            f"{interval(trend.slope, trend.low, trend.high)} for each unit (p {p_value(trend.p)}). "
            "One bias and one pair of limits then do not fit the whole range. Unequal noise of the "
            "two devices alone can also do this."
        )
    elif trend is not None:
        said.append(
            f"No change of the difference with size is shown (p {p_value(trend.p)}), which is not "
            "proof that there is none."
        )
    if result.n_pitchers is None:
        said.append("If several pairs come from one pitcher, name the pitcher's column.")
    said.append(
        "Whether limits this wide are good enough is a judgement on the use, not a result of "
        "this calculation."
    )
    return said


def trace_sentences(result: TraceResult) -> list[str]:
    """Alignment, then how far the traces lie apart."""
    lag = result.alignment
    said = [
        f"The reference's clock was moved by {1000 * lag.offset_s:.2f} ms ({lag.method}"
        + (f", correlation {lag.quality:.3f}" if lag.quality is not None else "")
        + (f", {counted(lag.pulses, 'pulse')}" if lag.pulses is not None else "")
        + (_drift(lag.error, lag.drift_ppm) if isinstance(lag, PulseAlignment) else "")
        + ").",
        f"Over {result.seconds:.3f} s ({result.n} samples) {result.ours} differs from "
        f"{result.reference} by {number(result.rmse)} (root mean square"
        + (f", {result.rmse_percent:.1f} % of its range" if result.rmse_percent is not None else "")
        + f"), on average by {number(result.bias)}; the peaks by {number(result.peak_difference)}.",
    ]
    if result.peak_delay_s is not None:
        side = "later" if result.peak_delay_s >= 0 else "earlier"
        late = 1000 * abs(result.peak_delay_s)
        said.append(f"After alignment our peak comes {late:.2f} ms {side}.")
    if lag.quality is not None and lag.quality < 0.9:
        said.append("The traces correlate poorly; the alignment itself is in doubt.")
    if lag.runner_up is not None and lag.quality is not None and lag.runner_up > lag.quality - 0.05:
        said.append("Another lag fits nearly as well; check the alignment by eye or by a pulse.")
    if lag.method == "pulse":
        said.append(
            f"The edge of a steep pulse is known to one sample only, here "
            f"{1000 * lag.step_s:.1f} ms; pulses at even intervals do not narrow it."
        )
    if lag.method == "cross-correlation":
        said.append(
            "Alignment by correlation hides any true delay between the two devices; only a shared "
            "pulse can show one."
        )
    return said


def _drift(error: PulseError, ppm: float) -> str:
    if error.drift_measured:
        return f", drift {ppm:.1f} ± {error.drift_ppm:.1f} ppm"
    return ", too few or too close for the clocks' drift, which is taken as none"
