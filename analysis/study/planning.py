"""How many pitchers and pitches for a within-pitcher slope of a wanted precision?

Studies are simulated from stated variances and analysed like a real one (CR2 interval with the
stated variances as weights). What differs between pitchers (their levels) does not matter for
a slope within pitchers, so it is not asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError
from analysis.study.words import number

_ASSURANCE = 0.8


@dataclass(frozen=True)
class Assumptions:
    """What the simulation takes for granted; slopes per ``per`` units of the predictor.

    ``sd_slope`` between pitchers' true slopes, ``sd_residual`` of the outcome from pitch to
    pitch, ``sd_predictor`` of the predictor from pitch to pitch within a pitcher (its unit).
    """

    slope: float
    sd_slope: float
    sd_residual: float
    sd_predictor: float
    per: float = 10.0


@dataclass(frozen=True)
class Planned:
    """One size of study: its interval's half width in half and in 80 % of simulated studies.

    ``reaches`` is the share of studies at least as precise as wanted, ``detects`` the share
    whose interval leaves out zero, ``covers`` the share that holds the true slope.
    """

    pitchers: int
    pitches: int
    half_width_median: float
    half_width_80: float
    reaches: float
    detects: float
    covers: float


@dataclass(frozen=True)
class PlanResult:
    """Answer to ``moundfeed study plan``; ``smallest`` has the fewest pitches in all that do.

    A size does where at least 80 % of its simulated studies are as precise as wanted.
    """

    wanted_half_width: float
    assumptions: Assumptions
    stated: list[str]
    studies: int
    seed: int
    sizes: list[Planned]
    smallest: Planned | None
    reading: str = ""


def estimate(
    assumptions: Assumptions,
    wanted_half_width: float,
    pitchers: list[int],
    pitches: list[int],
    *,
    studies: int = 2000,
    seed: int = 1,
) -> PlanResult:
    """Simulate every combination of ``pitchers`` and ``pitches`` (each at least two)."""
    _refuse_impossible(assumptions, wanted_half_width, pitchers, pitches, studies)
    sizes = [
        _simulate(
            assumptions,
            wanted_half_width,
            k,
            n,
            studies=studies,
            rng=np.random.default_rng([seed, k, n]),
        )
        for k in sorted(set(pitchers))
        for n in sorted(set(pitches))
    ]
    good = [size for size in sizes if size.reaches >= _ASSURANCE]
    return PlanResult(
        wanted_half_width=wanted_half_width,
        assumptions=assumptions,
        stated=_stated(assumptions),
        studies=studies,
        seed=seed,
        sizes=sizes,
        smallest=min(good, key=lambda s: (s.pitchers * s.pitches, s.pitchers), default=None),
    )


def _refuse_impossible(
    a: Assumptions, wanted: float, pitchers: list[int], pitches: list[int], studies: int
) -> None:
    for name, value in (
        ("the wanted half width", wanted),
        ("the pitch-to-pitch SD of the outcome", a.sd_residual),
        ("the pitch-to-pitch SD of the predictor", a.sd_predictor),
        ("the step", a.per),
    ):
        if not value > 0:
            raise StudyError(f"{name} must be greater than zero, not {value:g}")
    if a.sd_slope < 0:
        raise StudyError(f"the SD of slopes cannot be negative ({a.sd_slope:g})")
    if not pitchers or not pitches or min(pitchers) < 2 or min(pitches) < 2:
        raise StudyError("a study needs at least two pitchers with at least two pitches each")
    if studies < 20:
        raise StudyError(f"{studies} simulated studies are too few; at least 20 are needed")


def _simulate(
    a: Assumptions, wanted: float, k: int, n: int, *, studies: int, rng: np.random.Generator
) -> Planned:
    """Draw each pitcher's spread of the predictor and own fitted slope; no pitch is needed."""
    squares = (a.sd_predictor / a.per) ** 2 * rng.chisquare(n - 1, (studies, k))
    fitted = rng.normal(a.slope, np.sqrt(a.sd_slope**2 + a.sd_residual**2 / squares))
    estimate_, half = single_slope(squares, fitted, (a.sd_slope / a.sd_residual) ** 2)
    return Planned(
        pitchers=k,
        pitches=n,
        half_width_median=float(np.median(half)),
        half_width_80=float(np.quantile(half, _ASSURANCE)),
        reaches=float(np.mean(half <= wanted)),
        detects=float(np.mean(np.abs(estimate_) > half)),
        covers=float(np.mean(np.abs(estimate_ - a.slope) <= half)),
    )


def single_slope(squares: Array, fitted: Array, ratio: float) -> tuple[Array, Array]:
    """Slope and half width of its 95 % interval for many studies at once, both (studies,).

    ``squares`` and ``fitted`` (studies, k): each pitcher's sum of squared deviations and own
    least-squares slope; ``ratio``: slope variance over residual variance. This is
    ``cluster_robust.fit`` for one column, where all matrices shrink to numbers.
    """
    weights = squares / (1 + ratio * squares)
    bread = 1 / weights.sum(axis=1, keepdims=True)
    mean = bread * (weights * fitted).sum(axis=1, keepdims=True)
    left = 1 - weights * bread
    score = weights * (fitted - mean) / np.sqrt(left)
    se = bread[:, 0] * np.sqrt((score**2).sum(axis=1))
    lever = weights / np.sqrt(left)
    cross = bread[:, 0] ** 2 * ((lever**2).sum(axis=1) ** 2 - (lever**4).sum(axis=1))
    df = weights.sum(axis=1) ** 2 / ((weights**2).sum(axis=1) + cross)
    return mean[:, 0], stats.t.ppf(0.975, df) * se


def _stated(a: Assumptions) -> list[str]:
    return [
        f"The mean slope within pitchers is {number(a.slope)} per {a.per:g} of the predictor.",
        f"Pitchers' own slopes spread about it with SD {number(a.sd_slope)}.",
        f"The outcome varies from pitch to pitch with SD {number(a.sd_residual)} beside the slope.",
        "The predictor varies from pitch to pitch within a pitcher with SD "
        f"{number(a.sd_predictor)}.",
        "All of these are normally distributed; pitches of a pitcher are otherwise independent.",
        "Every pitcher throws the same number of pitches and none is lost.",
    ]
