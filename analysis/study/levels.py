"""Each number split in two: the pitcher's own mean, and how far this pitch is from it.

The "within-between" design: with the deviation and the mean in the model as two terms, the
slope between pitchers cannot leak into the slope within a pitcher. Sources: Neuhaus &
Kalbfleisch 1998, Biometrics 54:638-645; Bell, Fairbrother & Jones 2019, Quality & Quantity
53:1051-1074.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.study.cluster_robust import Array, Labels
from analysis.study.results import StudyError
from analysis.study.table import Prepared

_FLAT = 1e-9  # relative spread below which a column counts as constant


@dataclass(frozen=True)
class Split:
    """Columns split into pitcher means ``between`` (k, p) and deviations ``within`` (n, p).

    ``names`` has the p columns; ``varies_within`` and ``varies_between`` say where each has any
    spread; ``total`` (n, p) are the columns themselves.
    """

    names: list[str]
    total: Array
    within: Array
    between: Array
    varies_within: list[bool]
    varies_between: list[bool]


def means(values: Array, labels: Labels) -> Array:
    """Mean of each pitcher: ``values`` (n,) or (n, p) to (k,) or (k, p)."""
    count = np.bincount(labels)
    if values.ndim == 1:
        return np.bincount(labels, values) / count
    return np.column_stack([np.bincount(labels, column) / count for column in values.T])


def split(columns: dict[str, Array], labels: Labels) -> Split:
    """Split every column (n,) into its two levels."""
    total = np.column_stack(list(columns.values()))
    between = means(total, labels)
    within = total - between[labels]
    scale = np.maximum(np.abs(total).max(axis=0), 1e-300)
    return Split(
        names=list(columns),
        total=total,
        within=within,
        between=between,
        varies_within=[bool(v) for v in np.abs(within).max(axis=0) > _FLAT * scale],
        varies_between=[bool(v) for v in np.ptp(between, axis=0) > _FLAT * scale],
    )


def covariate_columns(prepared: Prepared, covariates: list[str]) -> dict[str, Array]:
    """Covariates as number columns; a text covariate becomes one 0/1 column for each level but one.

    The left-out level is the most frequent one.
    """
    columns: dict[str, Array] = {}
    for name in covariates:
        if name in prepared.numbers:
            columns[name] = prepared.numbers[name]
            continue
        counts = pd.Series(prepared.labels[name]).value_counts()
        if len(counts) < 2:
            raise StudyError(f"covariate '{name}' is '{counts.index[0]}' in every row")
        for level in sorted(str(v) for v in counts.index[1:]):
            columns[f"{name}={level}"] = (prepared.labels[name] == level).astype(np.float64)
    return columns


def refuse_ungrouped(labels: Labels, names: list[str]) -> None:
    """Raise where the pitches are all of one pitcher, or each of another."""
    if len(names) < 2:
        raise StudyError(
            f"all {len(labels)} pitches are of one pitcher ({names[0]}); at least two pitchers "
            "are needed, and three to say anything between pitchers"
        )
    if np.bincount(labels).max() < 2:
        raise StudyError(
            "every pitcher has only one pitch; at least some need two or more to say anything "
            "within a pitcher"
        )
