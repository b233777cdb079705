"""Layouts: which channel belongs to which platform, and how it lies in the mound frame.

Mound frame: right-handed, metres, gravity-aligned; origin at the middle of the
front edge of the rubber, at its top; x towards home plate, y to the left of a
pitcher who faces home, z up. Forces are ground reactions on the pitcher.

A platform is described with the notions of the open C3D standard: four
corners of its top surface in the order (+x+y), (-x+y), (-x-y), (+x-y) of its
own axes, an origin offset and a calibration matrix. Its own axes here are x
along the surface towards home, y left, z out of the surface.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


MOST_CHANNELS = 1024
#: No mound is larger, m; no calibration multiplies by more.
LARGEST_M = 100.0
LARGEST_FACTOR = 1e9


class LayoutError(ValueError):
    """A layout that cannot be; the text says what to mend."""


class PlatformKind(StrEnum):
    """What a platform's channels are."""

    WRENCH = "wrench"  # Fx Fy Fz Mx My Mz about its origin
    FORCE = "force"  # Fx Fy Fz, taken to act at the centre of the surface
    CELLS = "cells"  # one rigid deck on several 3-axis cells: Fx Fy Fz of each, mound axes


class FeetRule(StrEnum):
    """How a foot's share of the load is told."""

    BY_PLACE = "by_place"  # platforms behind the split carry the drive foot, the others the lead
    BY_LEVER = "by_lever"  # one platform under both feet: the lever rule


@dataclass(frozen=True)
class Deck:
    """The walking surface: level, then falling towards home. Metres, mound frame."""

    back: float
    front_of_level: float
    front: float
    half_width: float
    fall_per_m: float

    def height(self, x: npt.ArrayLike) -> Array:
        """Return the surface's z (m) at ``x`` (m)."""
        return -self.fall_per_m * np.maximum(np.asarray(x, dtype=float) - self.front_of_level, 0.0)


@dataclass(frozen=True, eq=False)
class Platform:
    """One force platform.

    ``channels`` are the indices of its channels in the feed; ``calibration``
    (k, k) turns raw channels into N and N m; ``range`` is the full scale of
    each channel after calibration, or None where unknown; ``sense`` is +1 for
    a device that reports the reaction on the pitcher, -1 for one that reports
    his action on it. ``origin`` (platform axes, m) runs from the centre of
    the surface to the point about which the moments are given. ``cells``
    (c, 3) are the cells' places in the mound frame (kind CELLS only).
    """

    name: str
    kind: PlatformKind
    channels: tuple[int, ...]
    corners: Array
    origin: Array
    calibration: Array
    sense: int = 1
    range: tuple[float, ...] | None = None
    cells: Array | None = None

    @cached_property
    def centre(self) -> Array:
        """Centre of the top surface, (3,) m, mound frame."""
        return np.asarray(self.corners.mean(axis=0))

    @cached_property
    def axes(self) -> Array:
        """Rotation, (3, 3): columns are the platform's x, y, z axes in the mound frame."""
        c = self.corners
        x = c[0] + c[3] - c[1] - c[2]
        x = x / np.linalg.norm(x)
        y = c[0] + c[1] - c[2] - c[3]
        z = np.cross(x, y)
        z = z / np.linalg.norm(z)
        return np.column_stack([x, np.cross(z, x), z])

    @cached_property
    def to_wrench(self) -> Array:
        """Matrix (6, k): raw channels to (F, M about the surface's centre), mound axes."""
        R = self.axes
        if self.kind is PlatformKind.WRENCH:
            local = np.eye(6)
            local[3:, :3] = cross_matrix(self.origin)
            turned = np.zeros((6, 6))
            turned[:3, :3] = R
            turned[3:, 3:] = R
            matrix = turned @ local
        elif self.kind is PlatformKind.FORCE:
            matrix = np.zeros((6, 3))
            matrix[:3] = R
        else:
            assert self.cells is not None
            blocks = [
                np.vstack([np.eye(3), cross_matrix(cell - self.centre)]) for cell in self.cells
            ]
            matrix = np.hstack(blocks)
        return np.asarray(self.sense * (matrix @ self.calibration))


@dataclass(frozen=True, eq=False)
class Layout:
    """A whole mound: its deck, its platforms and the rule for telling the feet apart.

    ``split_x`` (m): a load behind it is on the drive foot's side.
    ``spare`` names channels that belong to no platform (a synchronisation pulse).
    """

    name: str
    channels: int
    deck: Deck
    platforms: tuple[Platform, ...]
    feet: FeetRule
    split_x: float
    spare: Mapping[str, int] = field(default_factory=dict)
    origin_text: str = ""

    @property
    def measures_moments(self) -> bool:
        """Whether a centre of pressure is measured, not just which platform bears the load."""
        return all(p.kind is not PlatformKind.FORCE for p in self.platforms)


def layout_from_mapping(table: Mapping[str, Any], text: str = "") -> Layout:
    """Build a layout from the parsed TOML ``table``; raise :class:`LayoutError`.

    ``text`` is the file's own text, kept so that a recording can carry it.
    """
    try:
        deck_table = table["deck"]
        deck = Deck(
            back=float(deck_table["back_m"]),
            front_of_level=float(deck_table["front_of_level_m"]),
            front=float(deck_table["front_m"]),
            half_width=float(deck_table["half_width_m"]),
            fall_per_m=float(deck_table["fall_per_m"]),
        )
        split_x = float(table.get("split_x_m", deck.front_of_level))
        _check_deck(deck, split_x)
        platforms = tuple(_platform(entry) for entry in table.get("platform", ()))
        if "tiles" in table:
            platforms += _tiles(table["tiles"], deck, first=sum(len(p.channels) for p in platforms))
        layout = Layout(
            name=str(table["name"]),
            channels=_whole(table["channels"]),
            deck=deck,
            platforms=platforms,
            feet=FeetRule(table.get("feet", "by_place")),
            split_x=split_x,
            spare={str(k): _whole(v) for k, v in table.get("spare", {}).items()},
            origin_text=text,
        )
    except LayoutError:
        raise
    except KeyError as error:
        raise LayoutError(f"the layout lacks {error.args[0]!r}") from None
    except (TypeError, ValueError, AttributeError, OverflowError, IndexError) as error:
        raise LayoutError(f"the layout cannot be read: {error}") from None
    _check(layout)
    return layout


def _platform(entry: Mapping[str, Any]) -> Platform:
    kind = PlatformKind(entry.get("kind", "wrench"))
    channels = tuple(_whole(c) for c in entry["channels"])
    k = len(channels)
    calibration = np.array(entry.get("calibration", np.eye(k)), dtype=float)
    sense = entry.get("sense", "reaction")
    if sense not in ("reaction", "action"):
        raise LayoutError(f"platform {entry['name']!r}: sense is 'reaction' or 'action'")
    return Platform(
        name=str(entry["name"]),
        kind=kind,
        channels=channels,
        corners=np.array(entry["corners_m"], dtype=float),
        origin=np.array(entry.get("origin_m", (0.0, 0.0, 0.0)), dtype=float),
        calibration=calibration,
        sense=1 if sense == "reaction" else -1,
        range=tuple(float(r) for r in entry["range"]) if "range" in entry else None,
        cells=np.array(entry["cells_m"], dtype=float) if "cells_m" in entry else None,
    )


def _tiles(table: Mapping[str, Any], deck: Deck, first: int) -> tuple[Platform, ...]:
    """Square force tiles that cover the deck, row by row from the back, right to left."""
    rows, columns = _whole(table["rows"]), _whole(table["columns"])
    if not (0 < rows <= MOST_CHANNELS and 0 < columns <= MOST_CHANNELS // (3 * rows)):
        raise LayoutError(f"{rows} x {columns} tiles are not 1 to {MOST_CHANNELS // 3}")
    reach = tuple(float(r) for r in table["range"]) if "range" in table else None
    xs = np.linspace(deck.back, deck.front, rows + 1)
    ys = np.linspace(-deck.half_width, deck.half_width, columns + 1)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            corner_x = (xs[row + 1], xs[row], xs[row], xs[row + 1])
            corner_y = (ys[column + 1], ys[column + 1], ys[column], ys[column])
            start = first + 3 * (row * columns + column)
            tiles.append(
                Platform(
                    name=f"r{row + 1:02d}c{column + 1}",
                    kind=PlatformKind.FORCE,
                    channels=(start, start + 1, start + 2),
                    corners=np.column_stack([corner_x, corner_y, deck.height(corner_x)]),
                    origin=np.zeros(3),
                    calibration=np.eye(3),
                    range=reach,
                )
            )
    return tuple(tiles)


def _check(layout: Layout) -> None:
    if not layout.platforms:
        raise LayoutError("the layout has no platform")
    if not 1 <= layout.channels <= MOST_CHANNELS:
        raise LayoutError(f"channels must be between 1 and {MOST_CHANNELS}")
    names = [p.name for p in layout.platforms]
    if len(set(names)) != len(names):
        raise LayoutError("two platforms have the same name")
    used = [c for p in layout.platforms for c in p.channels] + list(layout.spare.values())
    if len(set(used)) != len(used):
        raise LayoutError("a channel is used twice")
    if any(not 0 <= c < layout.channels for c in used):
        raise LayoutError(f"a channel lies outside 0 to {layout.channels - 1}")
    if layout.feet is FeetRule.BY_LEVER and len(layout.platforms) != 1:
        raise LayoutError("feet = 'by_lever' is for one platform under both feet")
    for p in layout.platforms:
        _check_platform(p)


def _check_deck(deck: Deck, split_x: float) -> None:
    sizes = (deck.back, deck.front_of_level, deck.front, deck.half_width, split_x)
    if not all(abs(size) <= LARGEST_M for size in sizes) or not abs(deck.fall_per_m) <= 1.0:
        raise LayoutError(
            f"the deck's numbers and split_x_m must be numbers up to {LARGEST_M:g} m, "
            "and fall_per_m between -1 and 1"
        )
    if not (deck.back < deck.front and deck.half_width > 0):
        raise LayoutError("the deck's back_m must be less than its front_m, half_width_m above 0")


def _check_platform(p: Platform) -> None:
    expected = {PlatformKind.WRENCH: 6, PlatformKind.FORCE: 3}.get(p.kind)
    if p.kind is PlatformKind.CELLS:
        if p.cells is None or p.cells.ndim != 2 or p.cells.shape[1] != 3 or len(p.cells) < 3:
            raise LayoutError(f"platform {p.name!r}: cells_m needs at least three [x, y, z]")
        expected = 3 * len(p.cells)
    if len(p.channels) != expected:
        raise LayoutError(f"platform {p.name!r}: kind {p.kind.value} has {expected} channels")
    arrays: Sequence[tuple[str, Array, tuple[int, ...], float]] = (
        ("corners_m", p.corners, (4, 3), LARGEST_M),
        ("origin_m", p.origin, (3,), LARGEST_M),
        ("calibration", p.calibration, (expected, expected), LARGEST_FACTOR),
        *([] if p.cells is None else [("cells_m", p.cells, p.cells.shape, LARGEST_M)]),
    )
    for key, array, shape, largest in arrays:
        if array.shape != shape or not (np.abs(array) <= largest).all():
            raise LayoutError(
                f"platform {p.name!r}: {key} is not {shape} numbers of at most {largest:g}"
            )
    if p.range is not None and (
        len(p.range) != expected or not all(0 < reach < np.inf for reach in p.range)
    ):
        raise LayoutError(f"platform {p.name!r}: range needs {expected} positive numbers")
    if np.linalg.norm(np.cross(p.corners[0] - p.corners[2], p.corners[1] - p.corners[3])) < 1e-6:
        raise LayoutError(f"platform {p.name!r}: its corners span no surface")


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise LayoutError(f"{value!r} should be a whole number")
    return value


def cross_matrix(r: Array) -> Array:
    """Return the matrix of r x ... , (3, 3)."""
    return np.array([[0.0, -r[2], r[1]], [r[2], 0.0, -r[0]], [-r[1], r[0], 0.0]])
