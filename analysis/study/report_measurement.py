"""The pages of the questions about the instrument: reliability, agreement, traces."""

from __future__ import annotations

from functools import partial

from analysis.study import plots_measurement, points
from analysis.study.agreement import AgreementResult
from analysis.study.cautions import cautions_of
from analysis.study.cluster_robust import Array
from analysis.study.names import comma_unit, spoken
from analysis.study.pages import Figure, Page, Table, missing_table
from analysis.study.reliability import ReliabilityResult
from analysis.study.table import Prepared
from analysis.study.traces import TraceResult
from analysis.study.words import alike, number


def reliability_page(result: ReliabilityResult, data: Prepared, pitcher: str) -> Page:
    """Reliability within a day and between days."""
    unit = comma_unit(result.measure)
    rows = [
        [result.form, *alike(result.icc, result.low, result.high)],
        [f"typical error{unit}", *alike(result.sem, result.sem_low, result.sem_high)],
        [f"smallest detectable change{unit}", number(result.mdc95), "", ""],
    ]
    if result.cv_percent is not None:
        rows.append(["coefficient of variation, %", number(result.cv_percent), "", ""])
    days = result.between_days
    if days is not None:
        rows += [
            [name, *alike(i.estimate, i.low, i.high)]
            for name, i in (
                ("between days: ICC, one pitch", days.icc),
                ("between days: ICC, day's mean", days.icc_day_mean),
                (f"between days: typical error, one pitch{unit}", days.sem),
                (f"between days: typical error, day's mean{unit}", days.sem_day_mean),
            )
        ]
    rows += [[f.form, *alike(f.icc, f.low, f.high)] for f in result.forms]
    needed = [
        [
            f"{n.reliability:g}",
            "cannot be named" if n.pitches is None else str(n.pitches),
            "" if n.sem_of_mean is None else number(n.sem_of_mean),
        ]
        for n in result.pitches_needed
    ]
    return Page(
        f"How far can {spoken(result.measure)} be believed?",
        result.reading,
        [
            Figure(
                partial(plots_measurement.pitchers_in_order, result, data, pitcher),
                "Left: every pitch, pitchers in order of their mean. Right: how reliable a mean of "
                f"several pitches is{' within one day' if days else ''}.",
            )
        ],
        [
            Table(
                f"Reliability of {spoken(result.measure)}", ("", "estimate", "low", "high"), rows
            ),
            Table(
                f"Pitches for a stable mean{' within one day' if days else ''}",
                ("reliability", "pitches", "typical error of the mean"),
                needed,
            ),
            *missing_table(result.missing),
        ],
        "ICC in the notation of Shrout & Fleiss 1979; typical error from the within mean square, "
        "and smallest detectable change 1.96 sqrt(2) times it (Weir 2005); pitches by "
        "Spearman-Brown; between days from nested variance components with generalised intervals "
        "(Weerahandi 1995).",
        points.of_reliability(result, data, pitcher),
    )


def agreement_page(result: AgreementResult, data: Prepared) -> Page:
    """Limits of agreement."""
    limits = result.limits
    rows = [
        ["bias", *alike(limits.bias, limits.bias_low, limits.bias_high)],
        ["SD of a difference", number(limits.sd), "", ""],
        [
            "lower limit",
            *alike(limits.lower_limit, limits.lower_limit_low, limits.lower_limit_high),
        ],
        [
            "upper limit",
            *alike(limits.upper_limit, limits.upper_limit_low, limits.upper_limit_high),
        ],
    ]
    trend = result.proportional
    if trend is not None:
        rows.append(["slope on the size", *alike(trend.slope, trend.low, trend.high)])
    return Page(
        f"Does {spoken(result.ours)} agree with {spoken(result.reference)}?",
        result.reading,
        [
            Figure(
                partial(plots_measurement.difference_against_mean, result, data),
                "Differences against means. Bands: 95 % intervals of the bias and of the limits.",
            )
        ],
        [
            Table(f"Agreement{comma_unit(result.ours)}", ("", "estimate", "low", "high"), rows),
            *missing_table(result.missing),
        ],
        "Limits of agreement (Bland & Altman 1986, 1999; for several pitches a pitcher 2007), "
        "intervals for repeated measures by Zou 2013.",
        points.of_agreement(result, data),
        cautions_of(result),
    )


def trace_page(result: TraceResult, time: Array, ours: Array, reference: Array) -> Page:
    """Two traces on one clock."""
    return Page(
        f"{result.ours} beside {result.reference}",
        result.reading,
        [
            Figure(
                partial(plots_measurement.overlay, result, time, ours, reference),
                "Both traces after alignment (reference wide grey), and ours minus reference.",
            )
        ],
        [],
        "Alignment by normalised cross-correlation over the overlap, or by shared pulses with a "
        "robust line (Theil 1950; Sen 1968); root mean square over the common time.",
        points.of_traces(result.ours, result.reference, time, ours, reference),
        cautions_of(result),
    )
