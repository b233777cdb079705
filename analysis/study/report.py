"""The pages of effects, correlation, waveforms and plans."""

from __future__ import annotations

from functools import partial

from analysis.study import plots_effect, plots_measurement, points
from analysis.study.cautions import cautions_of
from analysis.study.correlation import CorrelationResult
from analysis.study.effect_result import EffectResult, Slope
from analysis.study.names import axis, label, listed, of_unit, spoken
from analysis.study.pages import Figure, Page, Table, missing_table
from analysis.study.planning import PlanResult
from analysis.study.table import Prepared
from analysis.study.waveforms import WaveformResult
from analysis.study.words import alike, number, p_value


def _cells(slope: Slope) -> list[str]:
    if slope.slope is None:
        return [slope.why, "", "", "", "", "", ""]
    if slope.low is None or slope.high is None:
        numbers = ["" if v is None else number(v) for v in (slope.slope, slope.se, None, None)]
    else:
        estimate, low, high = alike(slope.slope, slope.low, slope.high)
        numbers = [estimate, "" if slope.se is None else number(slope.se), low, high]
    return [
        *numbers,
        "" if slope.df is None else f"{slope.df:.1f}",
        *("" if p is None else p_value(p).removeprefix("= ") for p in (slope.p, slope.p_holm)),
    ]


def _without_between(result: EffectResult, predictor: str) -> str:
    """Say why there is no panel of the between slope, where there is none."""
    rows = [r for r in result.influence if r.predictor == predictor]
    if any(row.between is not None for row in rows):
        return ""
    return " With one pitcher fewer the slope between pitchers cannot be had."


def effect_page(result: EffectResult, data: Prepared, pitcher: str) -> Page:
    """Effects of every predictor: the two-level plot, slopes on one scale, influence, numbers."""
    figures, tables = [], []
    for effect in result.predictors:
        x = effect.predictor
        figures += [
            Figure(
                partial(plots_effect.two_levels, result, effect, data, pitcher),
                f"{label(result.outcome)} against {spoken(x)}. Left: all pitches; rings are "
                "pitchers' means, dotted lines the slope within each pitcher. Right: the same "
                "pitches with each pitcher's own mean taken out; this is all that speaks to one "
                "pitcher."
                f"{plots_effect.key_words(data, pitcher)}",
            ),
            Figure(
                partial(plots_effect.slopes_side_by_side, result, effect),
                f"Slopes for {spoken(x)} with 95 % intervals on one scale.",
            ),
        ]
        if any(left.predictor == x and left.within is not None for left in result.influence):
            figures.append(
                Figure(
                    partial(plots_effect.left_out, result, effect),
                    f"Slopes for {spoken(x)} with one pitcher left out in turn (grey: interval "
                    "with all). Filled points: without this pitcher an interval would or would no "
                    f"longer include zero.{_without_between(result, x)}",
                )
            )
        rows = [
            [name, *_cells(slope)]
            for name, slope in (
                ("within a pitcher", effect.within),
                ("between pitchers", effect.between),
                ("between, true means", effect.between_true_mean),
                ("between minus within", effect.difference),
                ("pooled", effect.pooled),
            )
        ]
        head = ("slope", "estimate", "SE", "low", "high", "df", "p", "p (Holm)")
        tables.append(
            Table(
                f"{axis(result.outcome)}, per {result.per:g}{of_unit(x)} of {spoken(x)}", head, rows
            )
        )
    if result.inflation:
        rows = [
            [i.column, i.level, "not computable" if i.factor is None else f"{i.factor:.2f}"]
            for i in result.inflation
        ]
        tables.append(Table("Variance inflation factors", ("column", "level", "factor"), rows))
    return Page(
        f"Does {listed(e.predictor for e in result.predictors)} go with {spoken(result.outcome)}?",
        result.reading,
        figures,
        tables + missing_table(result.missing),
        "Within-between mixed model by REML (Bell, Fairbrother & Jones 2019); within slopes with "
        "CR2 standard errors and Satterthwaite degrees of freedom (Bell & McCaffrey 2002; "
        "Pustejovsky & Tipton 2018); between slopes from weighted pitcher means with the scale of "
        "their own residuals (Knapp & Hartung 2003); adjusted p by Holm 1979. "
        f"Variances: pitchers SD {number(result.variances.sd_pitcher)}, pitch to pitch SD "
        f"{number(result.variances.sd_residual)}"
        + (
            ", slopes SD " + ", ".join(number(sd) for sd in result.variances.sd_slopes)
            if result.variances.sd_slopes
            else ""
        )
        + ".",
        points.of_effect(result, data, pitcher),
    )


def correlation_page(result: CorrelationResult, data: Prepared, pitcher: str) -> Page:
    """Repeated-measures correlation with its parallel lines."""
    rows = [
        ["within pitchers", *(f"{r:.3f}" for r in (result.r, result.low, result.high))],
        ["pitchers' means", "-" if result.r_means is None else f"{result.r_means:.3f}", "", ""],
        ["all pitches pooled", f"{result.r_pooled:.3f}", "", ""],
    ]
    return Page(
        f"Do {listed([result.x, result.y])} move together within pitchers?",
        result.reading,
        [
            Figure(
                partial(plots_effect.parallel_lines, result, data, pitcher),
                "Each pitcher's pitches with one slope common to all pitchers."
                f"{plots_effect.key_words(data, pitcher)}",
            )
        ],
        [
            Table("Correlations", ("kind", "r", "low", "high"), rows),
            *missing_table(result.missing),
        ],
        "Correlation for repeated measures (Bland & Altman 1995; Bakdash & Marusich 2017), Fisher "
        "interval with standard error 1 / sqrt(df - 1).",
        points.of_correlation(result, data, pitcher),
    )


def waveform_page(result: WaveformResult) -> Page:
    """Mean curves and the statistic along them."""
    rows = [
        [f"{s.start_percent:.1f}", f"{s.end_percent:.1f}", p_value(s.p).removeprefix("= ")]
        for s in result.stretches
    ]
    return Page(
        f"{label(result.value)}: {result.groups[0]} against {result.groups[1]}",
        result.reading,
        [
            Figure(
                partial(plots_measurement.curves, result),
                "Above: mean curves (second group dashed). Below: t along the movement; shaded "
                "where it passes the limit.",
            )
        ],
        [Table("Stretches that differ", ("from %", "to %", "p"), rows)] if rows else [],
        "One-dimensional statistical parametric mapping of pitchers' mean curves (Pataky 2012), "
        f"{result.design}, two-sided 5 %.",
        points.of_waveforms(result),
    )


def plan_page(result: PlanResult) -> Page:
    """Sizes of study and the precision they give."""
    rows = [
        [
            str(s.pitchers),
            str(s.pitches),
            number(s.half_width_median),
            number(s.half_width_80),
            f"{100 * s.reaches:.0f}",
            f"{100 * s.detects:.0f}",
            f"{100 * s.covers:.0f}",
        ]
        for s in result.sizes
    ]
    head = (
        "pitchers",
        "pitches each",
        "half width, median",
        "80 %",
        "precise enough, %",
        "leaves out zero, %",
        "holds the truth, %",
    )
    return Page(
        "How large a study?",
        result.reading,
        [
            Figure(
                partial(plots_measurement.half_widths, result),
                "Half width that 80 % of simulated studies reach.",
            )
        ],
        [Table("Simulated studies", head, rows)],
        f"{result.studies} simulated studies a size, seed {result.seed}; CR2 intervals with the "
        "stated variances as weights.",
        points.of_plan(result),
        cautions_of(result),
    )
