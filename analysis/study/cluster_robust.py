"""Least squares with standard errors that hold for a handful of pitchers.

The pitches of one pitcher resemble each other. The working model below says how; the
"bias-reduced linearization" variance (CR2) stays right when the working model is wrong, for
example when slopes differ between pitchers, and its Satterthwaite degrees of freedom keep the
intervals honest with few pitchers or unequal numbers of pitches.

Sources: Bell & McCaffrey 2002, Survey Methodology 28:169-181 (the variance and its degrees of
freedom for least squares); Pustejovsky & Tipton 2018, Journal of Business & Economic
Statistics 36:672-683 (weighted models, clusters of deficient rank).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

Array = npt.NDArray[np.float64]
Labels = npt.NDArray[np.int64]

_FULL_LEVERAGE = 1e-9  # below this share of its variance left, a direction says nothing


@dataclass(frozen=True)
class WorkingModel:
    """Covariance of one pitcher's pitches: ``I + Z diag(ratios) Z'``, times the residual variance.

    ``design`` (n, q) holds the columns of Z for all pitches, the first of them ones (the
    pitcher's own level); ``ratios`` (q,) are random-effect variances over the residual variance.
    """

    design: Array
    ratios: Array


@dataclass(frozen=True)
class Contrast:
    """An estimated quantity with its 95 % interval, degrees of freedom and two-sided p value."""

    estimate: float
    se: float
    low: float
    high: float
    df: float
    p: float


@dataclass(frozen=True)
class RobustFit:
    """Coefficients (p,), their covariance (p, p), and what the degrees of freedom need."""

    coefficients: Array
    covariance: Array
    bread: Array
    adjusted: tuple[Array, ...]
    designs: tuple[Array, ...]

    def contrast(self, weights: Array, confidence: float = 0.95) -> Contrast:
        """Estimate ``weights @ coefficients`` with a Satterthwaite t interval.

        ``weights`` has shape (p,). The degrees of freedom are those of the variance estimate
        if the working model were true: ``trace(P)^2 / sum(P^2)``.
        """
        directions = [a @ (self.bread @ weights) for a in self.adjusted]
        projected = np.array([x.T @ h for x, h in zip(self.designs, directions, strict=True)])
        own = np.diag([float(h @ h) for h in directions])
        spread = own - projected @ self.bread @ projected.T
        df = float(np.trace(spread) ** 2 / np.sum(spread**2))
        estimate = float(weights @ self.coefficients)
        se = float(np.sqrt(weights @ self.covariance @ weights))
        half = float(stats.t.ppf(0.5 + confidence / 2, df)) * se
        p = float(2 * stats.t.sf(abs(estimate) / se, df)) if se > 0 else float("nan")
        return Contrast(estimate, se, estimate - half, estimate + half, df, p)


def clusters(labels: Labels) -> list[npt.NDArray[np.intp]]:
    """Row numbers of each cluster, in order of label; ``labels`` are 0..k-1, shape (n,)."""
    order = np.argsort(labels, kind="stable")
    edges = np.flatnonzero(np.diff(labels[order])) + 1
    return list(np.split(order, edges))


def whiten(values: Array, rows: list[npt.NDArray[np.intp]], model: WorkingModel) -> Array:
    """Multiply each cluster's rows of ``values`` (n, c) by the inverse root of its covariance.

    The covariance is the identity plus a low-rank part, so a thin singular value
    decomposition of that part is enough, however many pitches a pitcher has.
    """
    out = np.array(values, dtype=np.float64)
    root = np.sqrt(model.ratios)
    for index in rows:
        u, s, _ = np.linalg.svd(model.design[index] * root, full_matrices=False)
        out[index] += u @ (((1 + s**2) ** -0.5 - 1)[:, None] * (u.T @ out[index]))
    return out


def fit(y: Array, design: Array, labels: Labels, model: WorkingModel | None = None) -> RobustFit:
    """Fit ``y`` (n,) on ``design`` (n, p) by (generalised) least squares with CR2 covariance.

    ``model`` gives the weights; without it this is ordinary least squares. ``design`` must have
    full column rank and there must be at least two clusters.
    """
    rows = clusters(labels)
    if model is not None:
        both = whiten(np.column_stack([y, design]), rows, model)
        y, design = both[:, 0], both[:, 1:]
    bread = np.asarray(np.linalg.inv(design.T @ design), dtype=np.float64)
    coefficients: Array = bread @ (design.T @ y)
    residual = y - design @ coefficients
    root = np.linalg.cholesky(bread)
    adjusted, designs, meat = [], [], np.zeros_like(bread)
    for index in rows:
        x = design[index]
        u, s, _ = np.linalg.svd(x @ root, full_matrices=False)
        left = 1 - s**2
        stretch = np.where(left > _FULL_LEVERAGE, np.maximum(left, _FULL_LEVERAGE) ** -0.5, 0.0)
        a = x + u @ ((stretch - 1)[:, None] * (u.T @ x))
        score = a.T @ residual[index]
        meat += np.outer(score, score)
        adjusted.append(a)
        designs.append(x)
    covariance: Array = bread @ meat @ bread
    return RobustFit(coefficients, covariance, bread, tuple(adjusted), tuple(designs))
