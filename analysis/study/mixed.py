"""Variances of the mixed model by REML, and what is done when the data cannot carry it.

The restricted likelihood of independent random effects is written out here and maximised
within its bounds, because zero variances are common with few pitchers and the optimiser of
the usual library (statsmodels' ``MixedLM``) then stops early or fails: in 180 simulated
studies of 8 pitchers it missed the optimum 21 times and called 6 good fits singular. Where it
does converge, the two agree (tested). Sources: Patterson & Thompson 1971, Biometrika
58:545-554; the profiled form as in Bates, Maechler, Bolker & Walker 2015, Journal of
Statistical Software 67(1), section 3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from analysis.study.cluster_robust import Array, Labels

_ZERO = 1e-3  # a random effect's SD this small beside the residual SD counts as none
_STARTS = (0.1, 4.0)  # variances over the residual variance


@dataclass(frozen=True)
class Variances:
    """REML variances as standard deviations in the outcome's unit, and the model they belong to.

    ``sd_slopes`` has one entry for each within-pitcher predictor, per step; it is empty where
    the data cannot show slopes that differ. ``note`` says in words what was fitted and where
    a variance is zero.
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
    centred within each pitcher. A variance estimated as zero is left at zero, which is the
    model without that random effect.
    """
    supported = _slopes_supported(slopes, labels)
    random = np.column_stack([np.ones(len(y)), slopes]) if supported else np.ones((len(y), 1))
    ratios, residual = _maximise(y, design, random, labels)
    sds = [float(r * residual) for r in ratios]
    return Variances(
        sd_pitcher=sds[0],
        sd_slopes=sds[1:],
        sd_residual=residual,
        random_slopes=any(sds[1:]),
        note=_note(sds, slopes.shape[1], supported),
    )


def _slopes_supported(slopes: Array, labels: Labels) -> bool:
    """Whether enough pitchers have enough pitches to tell their slopes apart at all."""
    q = slopes.shape[1]
    if not q:
        return False
    enough = int(np.sum(np.bincount(labels) >= q + 2))
    return bool(enough >= 3 * q + 2)


def _note(sds: list[float], n_slopes: int, supported: bool) -> str:
    said = []
    if sds[0] > 0 and any(sds[1:]):
        said.append("random intercepts and slopes, REML")
    elif sds[0] > 0:
        said.append("random intercepts, REML")
    elif any(sds[1:]):
        said.append("random slopes, REML; no variance left between pitchers' levels (singular)")
    else:
        said.append("least squares: no variance left between pitchers' levels (singular)")
    if n_slopes and not supported:
        said.append("too few pitchers with several pitches for slopes of their own")
    elif n_slopes and not all(sds[1:]):
        said.append("no variance left between pitchers' slopes (singular): one slope for all")
    return "; ".join(said)


def _maximise(y: Array, design: Array, random: Array, labels: Labels) -> tuple[list[float], float]:
    """SDs of the random effects over the residual's (r,), and the residual SD."""
    level, size = float(y.mean()), float(y.std())
    columns = np.sqrt(np.mean(design**2, axis=0))
    units = np.sqrt(np.mean(random**2, axis=0))
    criterion = _Criterion((y - level) / size, design / columns, random / units, labels)
    r = random.shape[1]
    bounds = optimize.Bounds(np.zeros(r), np.full(r, np.inf))

    def of_squares(squares: Array) -> float:
        return criterion.value(np.sqrt(squares))

    found = [
        optimize.minimize(of_squares, np.full(r, start), method="L-BFGS-B", bounds=bounds)
        for start in _STARTS
    ]
    best = np.sqrt(min(found, key=lambda one: float(one.fun)).x)
    # A variance near its bound is set to zero where the criterion is no worse for it.
    for j in np.argsort(best):
        without = np.where(np.arange(r) == j, 0.0, best)
        if best[j] < _ZERO or criterion.value(without) <= criterion.value(best) + 1e-9:
            best = without
    return [float(v) for v in best / units], float(np.sqrt(criterion.residual(best))) * size


class _Criterion:
    """Minus twice the restricted log-likelihood, profiled over fixed effects and residual variance.

    Each pitcher enters only through small cross products, so a value costs the same for three
    pitches a pitcher as for three hundred. Constants are left out.
    """

    def __init__(self, y: Array, design: Array, random: Array, labels: Labels) -> None:
        both = np.column_stack([design, y])
        self._df = len(y) - design.shape[1]
        self._total = both.T @ both
        k, r, c = int(labels.max()) + 1, random.shape[1], both.shape[1]
        self._random = np.zeros((k, r, r))
        self._mixed = np.zeros((k, r, c))
        np.add.at(self._random, labels, random[:, :, None] * random[:, None, :])
        np.add.at(self._mixed, labels, random[:, :, None] * both[:, None, :])

    def _reduced(self, ratios: Array) -> tuple[Array, float]:
        """Weighted cross products (p+1, p+1) and the sum of log determinants of covariances."""
        scaled = self._random * ratios[:, None] * ratios
        inner = np.eye(len(ratios)) + scaled
        cross = self._mixed * ratios[:, None]
        explained = np.einsum("kra,krb->ab", cross, np.linalg.solve(inner, cross))
        return self._total - explained, float(np.linalg.slogdet(inner)[1].sum())

    def _parts(self, ratios: Array) -> tuple[float, float, float]:
        """Residual variance, log determinants of the covariances and of the fixed effects."""
        products, spread = self._reduced(ratios)
        fixed, right = products[:-1, :-1], products[:-1, -1]
        left = float(products[-1, -1] - right @ np.linalg.solve(fixed, right))
        return max(left, 1e-300) / self._df, spread, float(np.linalg.slogdet(fixed)[1])

    def value(self, ratios: Array) -> float:
        """Criterion at the random effects' SDs over the residual SD, (r,)."""
        residual, spread, fixed = self._parts(ratios)
        return float(self._df * np.log(residual) + spread + fixed)

    def residual(self, ratios: Array) -> float:
        """Residual variance at the same."""
        return self._parts(ratios)[0]
