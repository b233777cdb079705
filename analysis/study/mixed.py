"""The mixed model by REML, and what is done when the data cannot carry it.

statsmodels' ``MixedLM`` estimates the variances: of the pitchers' own levels, of their own
slopes, and from pitch to pitch. The slopes and their intervals are then computed with these
variances as the working model (see ``cluster_robust``), because ``MixedLM`` offers only normal
(z) intervals, which are too narrow for a handful of pitchers.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace

import numpy as np
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

from analysis.study.cluster_robust import Array, Labels

_SINGULAR = 1e-5  # a variance this small beside the residual's lies on the boundary


@dataclass(frozen=True)
class Variances:
    """REML variances as standard deviations in the outcome's unit, and the model they belong to.

    ``sd_slopes`` has one entry for each within-pitcher predictor, per step; it is empty where
    all pitchers share a slope. ``note`` says in words which model was kept and why.
    """

    sd_pitcher: float
    sd_slopes: list[float]
    sd_residual: float
    random_slopes: bool
    note: str


def fit(y: Array, design: Array, slopes: Array, labels: Labels) -> Variances:
    """Estimate variances by REML, falling back from random slopes to none where singular.

    ``y`` (n,), fixed ``design`` (n, p), within-pitcher deviations ``slopes`` (n, q), ``labels``
    0..k-1 (n,). The random intercept and slopes are taken as independent: deviations are
    centred within each pitcher. Where even the pitchers' own levels show no variance, the
    model is ordinary least squares.
    """
    ones = np.ones((len(y), 1))
    notes = []
    if _slopes_supported(slopes, labels):
        found = _reml(y, design, np.column_stack([ones, slopes]), labels)
        if found is not None:
            return found
        notes.append("random slopes gave a singular fit and were dropped")
    elif slopes.shape[1]:
        notes.append("too few pitchers with several pitches for random slopes")
    found = _reml(y, design, ones, labels)
    if found is not None:
        return replace(found, note="; ".join([found.note, *notes]))
    residual = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    sd = float(np.sqrt(residual @ residual / max(len(y) - design.shape[1], 1)))
    notes.insert(0, "no variance left between pitchers (singular fit): least squares")
    return Variances(0.0, [], sd, False, "; ".join(notes))


def _slopes_supported(slopes: Array, labels: Labels) -> bool:
    """Whether enough pitchers have enough pitches to tell their slopes apart at all."""
    q = slopes.shape[1]
    if not q:
        return False
    enough = int(np.sum(np.bincount(labels) >= q + 2))
    return bool(enough >= 3 * q + 2)


def _reml(y: Array, design: Array, random: Array, labels: Labels) -> Variances | None:
    """One REML fit with independent random effects, or ``None`` where it is singular.

    Columns are brought to unit size first, because the optimiser's steps are absolute.
    """
    level, size = float(y.mean()), float(y.std())
    fixed_size = np.sqrt(np.mean(design**2, axis=0))
    random_size = np.sqrt(np.mean(random**2, axis=0))
    q = random.shape[1]
    start = MixedLMParams.from_components(
        fe_params=np.zeros(design.shape[1]), cov_re=np.diag([1.0] + [0.1] * (q - 1))
    )
    free = MixedLMParams.from_components(fe_params=np.ones(design.shape[1]), cov_re=np.eye(q))
    model = MixedLM(
        (y - level) / size, design / fixed_size, groups=labels, exog_re=random / random_size
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # convergence and boundary are judged below
        try:
            result = model.fit(reml=True, method="lbfgs", start_params=start, free=free)
        except (np.linalg.LinAlgError, ValueError):
            return None
    scaled = np.diag(np.asarray(result.cov_re, dtype=np.float64)) / float(result.scale)
    if not result.converged or not np.all(np.isfinite(scaled)) or np.min(scaled) < _SINGULAR:
        return None
    ratios = scaled / random_size**2
    residual = float(np.sqrt(result.scale)) * size
    sds = np.sqrt(ratios) * residual
    text = "random intercepts and slopes" if q > 1 else "random intercepts"
    return Variances(float(sds[0]), [float(sd) for sd in sds[1:]], residual, q > 1, f"{text}, REML")
