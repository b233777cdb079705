"""Does the answer hang on one pitcher? The slopes again with each pitcher left out in turn.

The variances of the full fit are kept (a one-step deletion), so that hundreds of pitchers take
a moment; each pitcher's mean is his own, so leaving another out does not change it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.study import mixed, slopes
from analysis.study.cluster_robust import Array, Contrast, Labels
from analysis.study.levels import means


@dataclass(frozen=True)
class LeftOut:
    """One predictor's slopes without one pitcher.

    ``within_shift`` and ``between_shift`` are the change from the full answer in its standard
    errors; ``changes_answer`` says that an interval which left out zero now includes it, or
    the reverse. ``None`` where a slope cannot be computed without this pitcher.
    """

    pitcher: str
    predictor: str
    within: float | None
    between: float | None
    within_shift: float | None
    between_shift: float | None
    changes_answer: bool


def leave_one_out(
    y: Array,
    labels: Labels,
    *,
    names: list[str],
    blocks: slopes.Blocks,
    spread: mixed.Variances,
    predictors: list[str],
) -> list[LeftOut]:
    """Refit without each of the k pitchers; needs at least three, else the list is empty."""
    if len(names) < 3:
        return []
    full = _both(y, labels, blocks, spread)
    out = []
    for i, name in enumerate(names):
        keep = labels != i
        rest = slopes.Blocks(
            blocks.within[keep],
            blocks.within_names,
            np.delete(blocks.between, i, axis=0),
            blocks.between_names,
        )
        codes = np.where(labels > i, labels - 1, labels)[keep]
        without = ({}, {}) if _flat(rest) else _both(y[keep], codes, rest, spread)
        out += [_compare(name, predictor, full, without) for predictor in predictors]
    return out


_Slopes = tuple[dict[str, Contrast], dict[str, Contrast]]


def _both(y: Array, labels: Labels, blocks: slopes.Blocks, spread: mixed.Variances) -> _Slopes:
    counts = np.bincount(labels)
    return (
        slopes.within(y, labels, blocks, spread),
        slopes.between(means(y, labels), counts, blocks, spread),
    )


def _flat(blocks: slopes.Blocks) -> bool:
    """Whether the pitchers left over no longer tell the columns apart."""
    level = np.column_stack([np.ones(len(blocks.between)), blocks.between])
    return any(d.size > 0 and np.linalg.matrix_rank(d) < d.shape[1] for d in (level, blocks.within))


def _compare(pitcher: str, predictor: str, full: _Slopes, without: _Slopes) -> LeftOut:
    values: list[float | None] = []
    shifts: list[float | None] = []
    changes = False
    for before, after in zip(full, without, strict=True):
        was, now = before.get(predictor), after.get(predictor)
        if was is None or now is None:
            values.append(None)
            shifts.append(None)
            continue
        values.append(now.estimate)
        shifts.append((now.estimate - was.estimate) / was.se if was.se > 0 else None)
        changes = changes or (was.low * was.high > 0) != (now.low * now.high > 0)
    return LeftOut(pitcher, predictor, values[0], values[1], shifts[0], shifts[1], changes)
