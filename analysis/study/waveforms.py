"""Whole force curves compared at once: one-dimensional statistical parametric mapping.

Each pitcher's curves are averaged first, so that pitchers and not pitches are counted. The
test itself (random field theory) is done by the optional library ``spm1d``, which has a
licence of its own (GPL-3) and is therefore not part of a normal installation. Sources: Friston
et al. 2007, Statistical Parametric Mapping; Pataky 2012, Computer Methods in Biomechanics and
Biomedical Engineering 15:295-301.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.study.cluster_robust import Array
from analysis.study.results import Missing, StudyError
from analysis.study.table import Prepared

_POINTS = 101
_ALPHA = 0.05


@dataclass(frozen=True)
class Stretch:
    """A stretch of the movement where the groups differ: ends in percent, and its p value."""

    start_percent: float
    end_percent: float
    p: float


@dataclass(frozen=True)
class WaveformResult:
    """Answer to ``moundfeed study waveforms``.

    ``design`` is ``paired`` (each pitcher in both groups) or ``two groups``. Curves have 101
    points, 0 to 100 % of each curve's own time. ``threshold`` is the critical value of
    ``|t|`` over the whole curve at 5 %.
    """

    value: str
    groups: list[str]
    design: str
    n_pitchers: list[int]
    n_curves: int
    threshold: float
    greatest_t: float
    stretches: list[Stretch]
    means: list[list[float]]
    t: list[float]
    missing: Missing
    reading: str = ""


def library() -> Any:
    """Import the optional library, or raise ``StudyError`` with the way to install it."""
    try:
        import spm1d  # noqa: PLC0415 - optional, and slow to import
    except ImportError as error:
        raise StudyError(
            "comparing whole curves needs the optional library spm1d (GPL-3 licence); "
            "install it with: pip install '.[waveforms]'"
        ) from error
    return spm1d


def estimate(
    prepared: Prepared, value: str, *, time: str, curve: str, pitcher: str, group: str
) -> WaveformResult:
    """Compare two groups of curves; the table has one row a sample, long form.

    ``curve`` names one movement (unique over all pitchers, for example session and number);
    ``group`` has exactly two values.
    """
    spm = library()
    means = _pitcher_means(prepared, value, time=time, curve=curve, pitcher=pitcher, group=group)
    groups = sorted({g for _, g in means})
    if len(groups) != 2:
        raise StudyError(f"'{group}' must have exactly two values, not {len(groups)}")
    who = [{p for p, g in means if g == name} for name in groups]
    both = sorted(who[0] & who[1])
    paired = bool(both)
    members = [both, both] if paired else [sorted(names) for names in who]
    counts = [len(names) for names in members]
    if min(counts) < 3:
        raise StudyError(
            f"{min(counts)} pitchers are too few to compare curves; each group needs three"
        )
    a, b = (
        np.array([means[name, g] for name in names])
        for names, g in zip(members, groups, strict=True)
    )
    if paired:
        if np.any(np.std(a - b, axis=0) == 0):
            raise StudyError("at some instants all pitchers differ by the same amount exactly")
        test = spm.stats.ttest_paired(a, b)
    else:
        test = spm.stats.ttest2(a, b, equal_var=False)
    found = test.inference(_ALPHA, two_tailed=True)
    return WaveformResult(
        value=value,
        groups=groups,
        design="paired" if paired else "two groups",
        n_pitchers=counts,
        n_curves=len(np.unique(prepared.labels[curve])),
        threshold=float(found.zstar),
        greatest_t=float(np.max(np.abs(found.z))),
        stretches=[
            Stretch(float(c.endpoints[0]), float(c.endpoints[1]), float(c.P))
            for c in found.clusters
        ],
        means=[[float(v) for v in curves.mean(axis=0)] for curves in (a, b)],
        t=[float(v) for v in found.z],
        missing=prepared.missing,
    )


def normalised(time: Array, values: Array) -> Array:
    """One curve (n,) at 101 equally spaced points of its own time, straight lines between."""
    if len(time) < 4 or not np.all(np.diff(time) > 0):
        raise StudyError("a curve needs at least four samples at increasing times")
    return np.interp(np.linspace(time[0], time[-1], _POINTS), time, values)


def _pitcher_means(
    prepared: Prepared, value: str, *, time: str, curve: str, pitcher: str, group: str
) -> dict[tuple[str, str], Array]:
    """Mean curve (101,) for each pitcher and group."""
    curves: dict[tuple[str, str], list[Array]] = {}
    names, start = np.unique(prepared.labels[curve], return_inverse=True)
    for i, name in enumerate(names):
        rows = np.flatnonzero(start == i)
        owners = {(str(prepared.labels[pitcher][r]), str(prepared.labels[group][r])) for r in rows}
        if len(owners) > 1:
            raise StudyError(f"curve '{name}' belongs to several pitchers or groups")
        try:
            shape = normalised(prepared.numbers[time][rows], prepared.numbers[value][rows])
        except StudyError as error:
            raise StudyError(f"curve '{name}': {error}") from error
        curves.setdefault(owners.pop(), []).append(shape)
    return {key: np.mean(shapes, axis=0) for key, shapes in curves.items()}
