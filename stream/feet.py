"""Which load belongs to which foot.

Two rules. By place: each platform bears one foot's side, the drive foot's
behind the split and the lead foot's before it. By lever: one rigid deck bears
both; in double support the split follows the lever rule between the two feet's
centres of pressure, and what rests on it is an estimate.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from stream.forces import FX, FY, FZ, LOAD_WIDTH, NORMAL, NX, load_matrix, pressure_point
from stream.layout import Array, FeetRule, Layout, Platform
from stream.movement import Foot

#: Some of a feed's channels.
Channels: TypeAlias = slice | npt.NDArray[np.intp]

#: Before a landing is known, where the lead foot is taken to land (m): 84 % of 1.8 m.
USUAL_STRIDE_M = 1.5
#: Where the drive foot stands before the rubber (m): half a shoe's width.
USUAL_DRIVE_X_M = 0.07
#: A landing foot reaches this far behind its centre of pressure (m).
FOOT_REACH_M = 0.35
#: Under one foot the centre of pressure moves slower than this, m/s.
CREEP_MPS = 2.5
#: Two feet at least this far apart make a lever, m.
LEAST_LEVER_M = 0.7
#: A landing foot bears on its place for at least so long, s.
LANDED_S = 0.06
#: The drive foot stands alone in this stretch before a landing, s.
JUST_BEFORE_S = (0.06, 0.01)
#: A deck bearing less has no centre of pressure, N.
LEAST_DECK_LOAD_N = 40.0


@dataclass(frozen=True, eq=False)
class SplitInput:
    """A window to be told apart: ``loads`` (n, k) as they came and ``smooth`` low-passed.

    ``landing`` is the sample near which the lead foot lands; centres of
    pressure are told where a foot bears at least ``least_n``.
    """

    loads: Array
    smooth: Array
    landing: int
    rate_hz: float
    least_n: float


class FeetModel(ABC):
    """A rule for telling the feet apart on one layout."""

    #: Whether a share in double support is an estimate.
    estimates: bool

    def __init__(self, layout: Layout) -> None:
        self.layout = layout

    @cached_property
    def _whole_deck(self) -> Array:
        return load_matrix(self.layout, self.layout.platforms)

    @abstractmethod
    def online_rows(self) -> Array:
        """Return the matrix (6, channels): Fz of drive and lead side, Fx of both, Fy of both.

        A deck that cannot tell whose Fx and Fy they are puts them on the lead side.
        """

    @abstractmethod
    def sides(self) -> tuple[Channels, ...]:
        """Return the channels of each part of the deck that can have a zero of its own."""

    @abstractmethod
    def loads(self, samples: npt.NDArray[Any], tare: Array, landing: int, rate_hz: float) -> Array:
        """Return what :meth:`tell_apart` needs, (n, k), from raw ``samples`` (n, channels).

        ``tare`` (channels,) is the zero in force, ``landing`` the sample near
        which the lead foot lands.
        """

    @abstractmethod
    def both_feet(self, loads: Array) -> Array:
        """Return the whole deck's load, as :meth:`deck_loads` does, from :meth:`loads`."""

    @abstractmethod
    def tell_apart(self, given: SplitInput) -> tuple[Foot, Foot, Array]:
        """Return (drive, lead, the lead foot's vertical force before filtering (n,) N)."""

    def deck_loads(self, samples: npt.NDArray[Any], tare: Array) -> Array:
        """Return the whole deck's load (n, k) from raw ``samples`` (n, channels)."""
        return _tared_product(samples, tare, self._whole_deck)

    def as_one_foot(self, deck_loads: Array, least_n: float) -> Foot:
        """Return the whole deck's load as if one foot bore it."""
        cop = pressure_point(self.layout, self.layout.platforms[0], deck_loads, least_n)
        return Foot(np.ascontiguousarray(deck_loads[:, :3]), cop)


class ByPlace(FeetModel):
    """Platforms wholly behind the boundary are the drive foot's, the others the lead foot's."""

    estimates = False

    def online_rows(self) -> Array:
        """Return the rows with the layout's own split as boundary."""
        drive, lead = self._matrices(self.layout.split_x)
        return np.vstack([drive[FZ], lead[FZ], drive[FX], lead[FX], drive[FY], lead[FY]])

    def sides(self) -> tuple[Channels, ...]:
        """Return the channels behind the split and those before it."""
        drive = _channels(p for p in self.layout.platforms if self._is_behind(p))
        lead = _channels(p for p in self.layout.platforms if not self._is_behind(p))
        return drive, lead

    def loads(self, samples: npt.NDArray[Any], tare: Array, landing: int, rate_hz: float) -> Array:
        """Put the boundary behind the landed foot, so that a drag stays the drive foot's."""
        boundary = self.layout.split_x
        _, lead = self._matrices(boundary)
        until = landing + round(LANDED_S * rate_hz)
        landed = _tared_product(samples[landing:until], tare, lead)
        if len(landed) and np.isfinite(landed).all():
            total = landed.sum(axis=0)
            if total[3] > 0.0:
                boundary = max(boundary, float(total[4] / total[3]) - FOOT_REACH_M)
        drive, lead = self._matrices(boundary)
        return _tared_product(samples, tare, np.vstack([drive, lead]))

    def both_feet(self, loads: Array) -> Array:
        """Return the sum of both sides."""
        return np.asarray(loads[:, :LOAD_WIDTH] + loads[:, LOAD_WIDTH:])

    def tell_apart(self, given: SplitInput) -> tuple[Foot, Foot, Array]:
        """Return both feet; the columns are already told apart."""
        platform = self.layout.platforms[0]
        feet = []
        for columns in (given.smooth[:, :LOAD_WIDTH], given.smooth[:, LOAD_WIDTH:]):
            cop = pressure_point(self.layout, platform, columns, given.least_n)
            feet.append(Foot(np.ascontiguousarray(columns[:, :3]), cop))
        return feet[0], feet[1], np.ascontiguousarray(given.loads[:, LOAD_WIDTH + FZ])

    def _matrices(self, boundary: float) -> tuple[Array, Array]:
        """Return the load matrices of what lies behind ``boundary`` (m) and of the rest."""
        behind = self._ends <= boundary + 1e-6
        return np.where(behind, self._whole_deck, 0.0), np.where(behind, 0.0, self._whole_deck)

    @cached_property
    def _ends(self) -> Array:
        """Where each channel's platform ends towards home, (channels,) m."""
        ends = np.zeros(self.layout.channels)
        for p in self.layout.platforms:
            ends[list(p.channels)] = p.corners[:, 0].max()
        return ends

    def _is_behind(self, platform: Platform) -> bool:
        return bool(platform.corners[:, 0].max() <= self.layout.split_x + 1e-6)


class ByLever(FeetModel):
    """One deck under both feet: F_lead = F (x - x_drive) / (x_lead - x_drive).

    x_drive is taken from the single support just before the landing, x_lead
    from the first moment of single support after it. The vertical force
    follows the lever rule; the drive foot's horizontal force keeps the
    direction it had, the lead foot has the rest.
    """

    estimates = True

    def online_rows(self) -> Array:
        """Return the rows for the usual places of both feet, on the level plane."""
        rows = self._whole_deck
        lead = (rows[NX] - USUAL_DRIVE_X_M * rows[NORMAL]) / (USUAL_STRIDE_M - USUAL_DRIVE_X_M)
        nothing = np.zeros_like(lead)
        return np.vstack([rows[FZ] - lead, lead, nothing, rows[FX], nothing, rows[FY]])

    def sides(self) -> tuple[Channels, ...]:
        """Return every channel: a rigid deck has one zero."""
        return (_channels(self.layout.platforms),)

    def loads(self, samples: npt.NDArray[Any], tare: Array, landing: int, rate_hz: float) -> Array:
        """Return the whole deck's load."""
        return self.deck_loads(samples, tare)

    def both_feet(self, loads: Array) -> Array:
        """Return it as it is."""
        return loads

    def tell_apart(self, given: SplitInput) -> tuple[Foot, Foot, Array]:
        """Return both feet by the lever rule around the landing."""
        force = given.smooth[:, :3]
        place = self._place(given.smooth)
        from_s, to_s = JUST_BEFORE_S
        before = slice(
            max(0, given.landing - round(from_s * given.rate_hz)),
            max(1, given.landing - round(to_s * given.rate_hz)),
        )
        drive_at = _middle(place[before], self.layout.split_x)
        lead_at = _lead_place(place[given.landing :], drive_at, given.rate_hz)
        lever = float(lead_at[0] - drive_at[0])
        alone = max(0, given.landing - round(0.02 * given.rate_hz))
        share = _share(place, drive_at, lever, alone)
        lean = force[before, :2].sum(axis=0) / max(float(force[before, 2].sum()), 1.0)
        drive = np.empty_like(force)
        drive[:, 2] = (1.0 - share) * force[:, 2]
        single = (share == 0.0)[:, None]
        drive[:, :2] = np.where(single, force[:, :2], drive[:, 2:] * lean)
        lead = force - drive
        raw_share = _share(self._place(given.loads), drive_at, lever, alone)
        return (
            Foot(drive, _where_bearing(np.where(single, place, drive_at), drive, given.least_n)),
            Foot(lead, _where_bearing(_other_end(place, drive_at, share), lead, given.least_n)),
            np.asarray(raw_share * given.loads[:, FZ]),
        )

    def _place(self, loads: Array) -> Array:
        return pressure_point(self.layout, self.layout.platforms[0], loads, LEAST_DECK_LOAD_N)


def _channels(platforms: Iterable[Platform]) -> Channels:
    channels = [c for p in platforms for c in p.channels]
    if channels and channels == list(range(channels[0], channels[0] + len(channels))):
        return slice(channels[0], channels[0] + len(channels))  # a view in place of a copy
    return np.array(channels, dtype=np.intp)


def _tared_product(samples: npt.NDArray[Any], tare: Array, matrix: Array) -> Array:
    """Return ``matrix`` (k, channels) on the samples less the tare; the tare goes out last.

    Of two products that is the small one.
    """
    return np.asarray(samples @ matrix.T - matrix @ tare)


def feet_model(layout: Layout) -> FeetModel:
    """Return the rule that the layout asks for."""
    return ByLever(layout) if layout.feet is FeetRule.BY_LEVER else ByPlace(layout)


def _middle(places: Array, limit: float) -> Array:
    known = places[np.isfinite(places[:, 0])]
    if len(known) == 0:
        return np.array([min(USUAL_DRIVE_X_M, limit), 0.0])
    return np.asarray(np.median(known, axis=0))


def _share(place: Array, drive_at: Array, lever: float, alone: int) -> Array:
    """The lead foot's share of the load, (n,); none before sample ``alone``."""
    share = np.clip((place[:, 0] - drive_at[0]) / lever, 0.0, 1.0)
    share[np.isnan(share)] = 0.0
    share[:alone] = 0.0
    return np.asarray(share)


def _lead_place(place: Array, drive_at: Array, rate_hz: float) -> Array:
    """Where the lead foot bears when the drive foot has just left.

    In double support the centre of pressure runs from foot to foot at tens of
    metres a second; under one foot it creeps. The first creeping place well
    in front of the drive foot is the lead foot's.
    """
    creeping = np.abs(np.diff(place[:, 0])) * rate_hz < CREEP_MPS
    in_front = place[:-1, 0] > drive_at[0] + LEAST_LEVER_M
    at = np.flatnonzero(creeping & in_front)
    if len(at) == 0:
        return np.asarray(drive_at + np.array([USUAL_STRIDE_M, 0.0]))
    return np.asarray(place[at[0]])


def _other_end(place: Array, drive_at: Array, share: Array) -> Array:
    far = np.full_like(place, np.nan)
    enough = share > 0.5
    far[enough] = drive_at + (place[enough] - drive_at) / share[enough, None]
    return far


def _where_bearing(place: Array, force: Array, least_n: float) -> Array:
    shown = place.copy()
    shown[force[:, 2] < least_n] = np.nan
    return shown
