"""The calibration matrix that would mend the readings: fitted, with its uncertainty, not applied.

A mass presses straight down, so it tests the vertical force and the two
tilting moments of a platform and nothing else. For these three channels a
full 3 x 3 matrix is fitted by least squares, true = A read, in the platform's
axes; the other channels keep what the layout says. Tiles and cells have no
moments: each gets one gain for all its channels from the vertical ones.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.mound_check.placements import Measured
from stream.layout import Array, Layout, Platform, PlatformKind

#: Placements for three unknowns a row, so that the spread can be told.
LEAST = 6
_TESTED = (2, 3, 4)


class Offer(msgspec.Struct, frozen=True):
    """A fitted matrix for one platform: ``rows`` and ``se`` for ``channels``, and what to type.

    ``calibration`` is the layout's whole matrix with the fitted part in it.
    """

    platform: str
    channels: tuple[int, ...]
    rows: list[list[float]]
    se: list[list[float]]
    placements: int
    residual_n: float
    calibration: list[list[float]]


def offers(layout: Layout, measured: list[Measured], gravity: float) -> list[Offer]:
    """Return what can be fitted, platform by platform."""
    found = []
    for p in layout.platforms:
        mine = [m for m in measured if m.platform is p]
        if p.kind is PlatformKind.WRENCH:
            found += _wrench(layout, p, mine, gravity)
        elif p.kind is PlatformKind.CELLS or len(mine) >= 2:
            found += _gains(layout, p, mine, gravity)
    return found


def true_wrench(layout: Layout, p: Platform, m: Measured, gravity: float) -> Array:
    """Return what a faultless platform would read of Fx Fy Fz Mx My Mz in its own axes, (6,)."""
    x, y = m.placement.spot
    point = np.array([x, y, float(layout.deck.height(x))]) - p.centre
    force = np.array([0.0, 0.0, m.placement.mass_kg * gravity])
    local = np.concatenate([p.axes.T @ force, p.axes.T @ np.cross(point, force)])
    local[3:] -= np.cross(p.origin, local[:3])
    return np.asarray(p.sense * local)


def _wrench(layout: Layout, p: Platform, mine: list[Measured], gravity: float) -> list[Offer]:
    if len(mine) < LEAST:
        return []
    tested = list(_TESTED)
    channels = [p.channels[k] for k in tested]
    read = np.array([m.added[channels] for m in mine])
    true = np.array([true_wrench(layout, p, m, gravity)[tested] for m in mine])
    if np.linalg.matrix_rank(read / np.abs(read).max(axis=0).clip(1e-9), tol=0.05) < 3:
        return []  # all on one line: the moments cannot be told from the force
    fitted, *_ = np.linalg.lstsq(read, true, rcond=None)
    rest = true - read @ fitted
    variance = (rest**2).sum(axis=0) / (len(mine) - 3)
    spread = np.sqrt(np.outer(np.diag(np.linalg.inv(read.T @ read)), variance))
    whole = np.eye(6)
    whole[np.ix_(tested, tested)] = fitted.T
    return [_offer(p, channels, fitted.T, spread.T, len(mine), rest[:, 0], whole @ p.calibration)]


def _gains(layout: Layout, p: Platform, mine: list[Measured], gravity: float) -> list[Offer]:
    """One gain for each vertical channel, from weight and (for cells) the two moments."""
    verticals = list(p.channels[2::3])
    columns, targets = [], []
    for m in mine:
        weight = p.sense * m.placement.mass_kg * gravity * float(p.axes[2, 2])
        columns.append(m.added[verticals])
        targets.append(weight)
        if p.cells is not None:
            for axis in (0, 1):
                columns.append(m.added[verticals] * p.cells[:, axis])
                targets.append(weight * m.placement.spot[axis])
    design, target = np.array(columns), np.array(targets)
    n, k = design.shape if design.size else (0, len(verticals))
    if n <= k or np.linalg.matrix_rank(design) < k:
        return []
    gain, *_ = np.linalg.lstsq(design, target, rcond=None)
    rest = target - design @ gain
    variance = float(rest @ rest) / (n - k)
    spread = np.sqrt(np.diag(variance * np.linalg.inv(design.T @ design)))
    whole = np.diag(np.repeat(gain, 3)) @ p.calibration
    return [_offer(p, verticals, np.diag(gain), np.diag(spread), len(mine), rest, whole)]


def _offer(
    p: Platform,
    channels: list[int],
    fitted: Array,
    spread: Array,
    placements: int,
    rest: Array,
    whole: Array,
) -> Offer:
    return Offer(
        platform=p.name,
        channels=tuple(channels),
        rows=fitted.tolist(),
        se=spread.tolist(),
        placements=placements,
        residual_n=float(np.sqrt(np.mean(rest**2))),
        calibration=whole.tolist(),
    )
