"""The answer to an effect question, as plain numbers and words."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.study.collinearity import Inflation
from analysis.study.influence import LeftOut
from analysis.study.mixed import Variances
from analysis.study.results import Missing


@dataclass(frozen=True)
class Slope:
    """Change of the outcome per step of the predictor, with its 95 % interval.

    The numbers are ``None`` where the data cannot give them; ``why`` then says so. ``p_holm``
    is adjusted for all slopes tested in the same answer.
    """

    slope: float | None
    se: float | None
    low: float | None
    high: float | None
    df: float | None = None
    p: float | None = None
    p_holm: float | None = None
    why: str = ""


@dataclass(frozen=True)
class PredictorEffect:
    """All slopes of one predictor.

    ``between_true_mean`` corrects ``between`` for means that rest on few pitches;
    ``mean_reliability`` is how much of the spread of the observed means is real;
    ``difference`` is between minus within. Spreads are standard deviations in the predictor's
    unit: of pitches about their pitcher's mean, and of the means.
    """

    predictor: str
    within: Slope
    between: Slope
    pooled: Slope
    difference: Slope
    between_true_mean: Slope
    mean_reliability: float | None
    sd_within: float
    sd_between: float


@dataclass(frozen=True)
class EffectResult:
    """Answer to ``moundfeed study effect``; the top-level slopes are the first predictor's.

    ``separate`` says that each predictor had a model of its own.
    """

    n_pitches: int
    n_pitchers: int
    outcome: str
    per: float
    within: Slope
    between: Slope
    pooled: Slope
    predictors: list[PredictorEffect]
    covariates: list[str]
    variances: Variances
    inflation: list[Inflation]
    influence: list[LeftOut]
    n_tests: int
    separate: bool
    missing: Missing
    reading: str = ""
