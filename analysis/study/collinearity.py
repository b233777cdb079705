"""Predictors that move together: refused where exact, measured where partial."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.study.cluster_robust import Array
from analysis.study.results import StudyError


@dataclass(frozen=True)
class Inflation:
    """Variance inflation factor of one column at one level (``within`` or ``between``).

    ``1 / (1 - R^2)`` of the column on the others: how many times wider its squared standard
    error is than if the others did not move with it. ``None`` where it cannot be computed.
    """

    column: str
    level: str
    factor: float | None


def refuse_collinear(design: Array, names: list[str], where: str) -> None:
    """Raise where one column of ``design`` (rows, p) is made of the others exactly."""
    size = np.linalg.norm(design, axis=0)
    size[size == 0] = 1.0
    unit = design / size
    for last in range(1, unit.shape[1]):
        before = unit[:, :last]
        rest = unit[:, last] - before @ np.linalg.lstsq(before, unit[:, last], rcond=None)[0]
        if np.linalg.norm(rest) < 1e-7:
            raise StudyError(
                f"'{names[last]}' can be computed exactly from the other columns {where}; "
                "leave one of them out"
            )


def inflations(
    within: Array, within_names: list[str], between: Array, between_names: list[str]
) -> list[Inflation]:
    """Factors of deviations (n, pw) and of pitcher means (k, pb); empty for single columns."""
    out = []
    for level, design, names in (
        ("within", within, within_names),
        ("between", between, between_names),
    ):
        if len(names) < 2:
            continue
        if len(design) <= len(names) + 1:
            out += [Inflation(name, level, None) for name in names]
            continue
        correlation = np.corrcoef(design, rowvar=False)
        factors = np.diag(np.linalg.inv(correlation))
        out += [Inflation(name, level, float(f)) for name, f in zip(names, factors, strict=True)]
    return out
