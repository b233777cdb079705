"""What a standing load does to the readings: its force, its place and how well they are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stream.checks.evidence import Evidence
from stream.checks.quiet import zero_at
from stream.forces import NORMAL, NX, load_matrix, pressure_point
from stream.layout import Array, Layout, Platform, PlatformKind

#: A platform bears the load from this force on, N, or this share of the strongest.
FELT_N = 15.0
FELT_SHARE = 0.05
#: How far a cell may be lifted while another is loaded, as a share of that one's load.
CELL_LIFT = 0.35
#: Standard errors allowed for noise on top of a limit: chance 1 in 2,000 or less.
SIGMAS = 3.5


@dataclass(frozen=True, eq=False)
class Seen:
    """A load as the readings show it.

    ``force`` (3,) N, mound frame, reaction on the load; ``force_error`` the
    standard error of one component; ``place`` (x, y) m, None under 15 N;
    ``place_error`` m; ``downward`` names platforms or cells that read a pull.
    """

    force: Array
    force_error: float
    place: Array | None
    place_error: float
    downward: tuple[str, ...]

    @property
    def size(self) -> float:
        """Size of the force, N."""
        return float(np.linalg.norm(self.force))

    @property
    def tilt(self) -> float:
        """Horizontal share of the force; 2 for one that points downward."""
        if self.force[2] <= 0:
            return 2.0
        return float(np.hypot(self.force[0], self.force[1])) / max(self.size, 1e-9)

    @property
    def tilt_deg(self) -> float:
        """Angle of the force from upright, degrees."""
        across = float(np.hypot(self.force[0], self.force[1]))
        return float(np.degrees(np.arctan2(across, self.force[2])))


def in_newtons(layout: Layout) -> Layout:
    """Return the layout as it reads calibrated channels (calibration matrices of one)."""
    plain = tuple(replace(p, calibration=np.eye(len(p.channels))) for p in layout.platforms)
    return replace(layout, platforms=plain)


def response(e: Evidence) -> tuple[Array, Array]:
    """Return what the load added to each channel and its standard error, (channels,), N and N m."""
    assert e.quiet is not None
    assert e.loaded is not None
    zero, zero_error = zero_at(e.quiet, e.loaded.middle_frame)
    return e.loaded.level - zero, np.hypot(e.loaded.level_error, zero_error)


def bearing(layout: Layout, added: Array, error: Array) -> list[Platform]:
    """Return the platforms that feel a load, the strongest first; none if no force is felt."""
    sizes = []
    for p in layout.platforms:
        index = _force_channels(p)
        if p.kind is PlatformKind.CELLS:
            size = float(np.abs(added[index]).max())
        else:
            size = float(np.linalg.norm(added[index]))
        sizes.append((size, 6.0 * float(np.linalg.norm(error[index])), p))
    strongest = max(size for size, _, _ in sizes)
    if strongest < FELT_N:
        return []
    felt = [s for s in sizes if s[0] > max(s[1], FELT_SHARE * strongest)]
    return [p for _, _, p in sorted(felt, key=lambda s: -s[0])]


def with_neighbours(layout: Layout, platforms: Sequence[Platform]) -> list[Platform]:
    """Return ``platforms`` and, for tiles, those next to the strongest: they share its load."""
    if not platforms or platforms[0].kind is not PlatformKind.FORCE:
        return list(platforms)
    first = platforms[0]
    reach = 1.5 * float(np.linalg.norm(first.corners[0] - first.corners[2])) / np.sqrt(2.0)
    near = [p for p in layout.platforms if np.linalg.norm(p.centre - first.centre) < reach]
    return near + [p for p in platforms if p not in near]


def look(layout: Layout, added: Array, error: Array) -> Seen | None:
    """Return the load that readings ``added`` (channels,) show, or None where none is felt.

    ``layout`` reads newtons (see :func:`in_newtons`).
    """
    felt = bearing(layout, added, error)
    if not felt:
        return None
    chosen = with_neighbours(layout, felt)
    matrix = load_matrix(layout, chosen)
    load = matrix @ added
    spread = np.sqrt(matrix**2 @ error**2)
    turned = load[None, :] * np.sign(load[NORMAL] or 1.0)  # a place does not depend on the sense
    # Any platform's kind tells how a place is found: one deck is of one kind.
    point = pressure_point(layout, chosen[0], turned, FELT_N)[0]
    known = bool(np.isfinite(point).all())
    normal = max(abs(float(load[NORMAL])), FELT_N)
    place_error = 0.0
    if known:
        lever = np.hypot(spread[NX : NX + 2], point * spread[NORMAL])
        place_error = float(lever.max()) / normal
    return Seen(
        force=np.asarray(load[:3]),
        force_error=float(spread[:3].max()),
        place=point if known else None,
        place_error=place_error,
        downward=_downward(layout, felt, added, error),
    )


def _downward(
    layout: Layout, platforms: Sequence[Platform], added: Array, error: Array
) -> tuple[str, ...]:
    found = []
    for p in platforms:
        vertical = load_matrix(layout, [p])[2]
        if p.kind is PlatformKind.CELLS:
            parts = [[c] for c in p.channels[2::3]]
        else:
            parts = [list(p.channels)]
        shares = [float(vertical[c] @ added[c]) for c in parts]
        # A stiff deck on four cells may lift one a little: a third of the most loaded at a corner.
        slack = (CELL_LIFT if p.kind is PlatformKind.CELLS else 0.01) * max(map(abs, shares))
        for c, share in zip(parts, shares, strict=True):
            if share < -(5.0 * float(np.linalg.norm(vertical[c] * error[c])) + slack):
                found.append(p.name)
    return tuple(dict.fromkeys(found))


def _force_channels(p: Platform) -> list[int]:
    return list(p.channels[:3] if p.kind is PlatformKind.WRENCH else p.channels)


def under(layout: Layout, spot: tuple[float, float]) -> Platform | None:
    """Return the platform whose surface lies under ``spot``, or None beside the deck."""
    for p in layout.platforms:
        low, high = p.corners[:, :2].min(axis=0), p.corners[:, :2].max(axis=0)
        if (low <= spot).all() and (spot <= high).all():
            return p
    return None
