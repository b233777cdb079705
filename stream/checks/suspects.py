"""Suspects: what may be wired or set wrongly, each as a remedy that can be tried on the readings.

Exchanged plugs, turned senses and turned axes are signed permutations of the
channels. Each suspect puts them right; the one under which the known load
comes out upright, as heavy and where it stands is the culprit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import combinations

import numpy as np

from stream.checks.evidence import cell_name
from stream.layout import Array, Layout, Platform, PlatformKind

_WRENCH = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")


class Kind(IntEnum):
    """Which check names the suspect."""

    SIGN = 1  # `signs`
    PLACE = 2  # `position`


@dataclass(frozen=True, eq=False)
class Suspect:
    """One thing that may be wrong; ``take`` and ``sign`` (channels,) put it right.

    ``say`` is what is wrong, ``do`` what mends it; ``key`` names it for programs.
    """

    key: str
    kind: Kind
    say: str
    do: str
    take: np.ndarray
    sign: Array

    def mend(self, readings: Array) -> Array:
        """Return the channels' readings (..., channels) as they would be without the fault."""
        return np.asarray(readings[..., self.take] * self.sign)


def suspects(layout: Layout, bearing: Sequence[Platform], spot: Platform | None) -> list[Suspect]:
    """Return every suspect for a load on ``bearing``, the likeliest first.

    ``spot`` is the platform under the marked spot, where one was named.
    """
    found: list[Suspect] = []
    for p in bearing:
        if p.kind is PlatformKind.CELLS:
            found += _cells(layout, p)
        else:
            found += _platform(layout, p)
    # Before exchanged platforms: tiles that are mirrored look like two exchanged ones.
    found += _turned_deck(layout, bearing)
    if spot is not None:
        found += [_exchanged(layout, p, spot) for p in bearing if p is not spot and _alike(p, spot)]
    return found


def _alike(a: Platform, b: Platform) -> bool:
    return len(a.channels) == len(b.channels)


def _suspect(
    layout: Layout,
    key: str,
    kind: Kind,
    words: tuple[str, str],
    moves: Sequence[tuple[int, int, float]],
) -> Suspect:
    """Build a suspect from ``moves``: (channel, the channel to take instead, its sign)."""
    take = np.arange(layout.channels)
    sign = np.ones(layout.channels)
    for to, source, factor in moves:
        take[to] = source
        sign[to] = factor
    return Suspect(key, kind, *words, take, sign)


def _platform(layout: Layout, p: Platform) -> Iterator[Suspect]:
    """Suspects of one wrench platform or tile."""
    ch = p.channels
    wrench = p.kind is PlatformKind.WRENCH
    now, other = ("reaction", "action") if p.sense > 0 else ("action", "reaction")
    yield _suspect(
        layout,
        f"sense:{p.name}",
        Kind.SIGN,
        (
            f"{p.name} platform reads upward as downward: its sense is set to {now}",
            f"set it to {other} in the layout (key `sense`) or turn the cable",
        ),
        [(c, c, -1.0) for c in ch],
    )
    for k in (2, 0, 1):
        yield _suspect(
            layout,
            f"sign:{p.name} {_WRENCH[k]}",
            Kind.SIGN,
            (
                f"{p.name} {_WRENCH[k]} (channel {ch[k]}) has the wrong sign",
                "turn that channel's sign at the amplifier or in the layout's `calibration`",
            ),
            [(ch[k], ch[k], -1.0)],
        )
    for i, j in ((0, 2), (1, 2), (0, 1)):
        axes = f"{'xyz'[i]} and {'xyz'[j]}"
        words = (
            f"{p.name} platform has its {axes} axes exchanged",
            f"exchange the {axes} plugs of that platform, or its `channels` in the layout",
        )
        forces = [(ch[i], ch[j], 1.0), (ch[j], ch[i], 1.0)]
        key = f"axes:{p.name} {'xyz'[i]}{'xyz'[j]}"
        yield _suspect(layout, key, Kind.SIGN, words, forces)
        if wrench:
            moments = [(ch[3 + i], ch[3 + j], 1.0), (ch[3 + j], ch[3 + i], 1.0)]
            yield _suspect(layout, key, Kind.SIGN, words, forces + moments)
            if (i, j) == (0, 1):
                yield _suspect(layout, key, Kind.SIGN, words, moments)


def _cells(layout: Layout, p: Platform) -> Iterator[Suspect]:
    """Suspects of a deck on cells: its sense, each cell's signs and axes, exchanged plugs."""
    assert p.cells is not None
    now, other = ("reaction", "action") if p.sense > 0 else ("action", "reaction")
    yield _suspect(
        layout,
        f"sense:{p.name}",
        Kind.SIGN,
        (
            f"{p.name} reads upward as downward: its sense is set to {now}",
            f"set it to {other} in the layout (key `sense`)",
        ),
        [(c, c, -1.0) for c in p.channels],
    )
    cells = [p.channels[3 * k : 3 * k + 3] for k in range(len(p.cells))]
    named = [f"{cell_name(p, k)} cell" for k in range(len(cells))]
    for ch, name in zip(cells, named, strict=True):
        words = (
            f"the {name} (channels {ch[0]} to {ch[2]}) reads upward as downward",
            "turn that cell's signs at the amplifier or in the layout's `calibration`",
        )
        yield _suspect(layout, f"sign:{name}", Kind.SIGN, words, [(ch[2], ch[2], -1.0)])
        for i, j in ((0, 2), (1, 2)):
            axes = f"{'xyz'[i]} and {'xyz'[j]}"
            words = (
                f"the {name} has its {axes} axes exchanged",
                f"exchange the {axes} plugs of that cell",
            )
            moves = [(ch[i], ch[j], 1.0), (ch[j], ch[i], 1.0)]
            yield _suspect(layout, f"axes:{name} {'xyz'[i]}{'xyz'[j]}", Kind.SIGN, words, moves)
    for a, b in combinations(range(len(cells)), 2):
        words = (
            f"the plugs of the {named[a]} and the {named[b]} are exchanged",
            "exchange the two cells' plugs at the amplifier",
        )
        moves = [(x, y, 1.0) for x, y in _both_ways(cells[a], cells[b])]
        yield _suspect(layout, f"swapped:{named[a]}, {named[b]}", Kind.SIGN, words, moves)


def _both_ways(a: Sequence[int], b: Sequence[int]) -> list[tuple[int, int]]:
    pairs = list(zip(a, b, strict=True))
    return pairs + [(y, x) for x, y in pairs]


def _exchanged(layout: Layout, a: Platform, b: Platform) -> Suspect:
    words = (
        f"the load stands on {b.name} but shows on {a.name}: the two platforms are exchanged",
        "exchange their plugs at the amplifier, or their `channels` in the layout",
    )
    moves = [(x, y, 1.0) for x, y in _both_ways(a.channels, b.channels)]
    return _suspect(layout, f"swapped:{a.name}, {b.name}", Kind.SIGN, words, moves)


#: Name, words ({where}: what is concerned), and the signs of x and y that put it right.
_TURNS = (
    (
        "mirrored y",
        "left and right are exchanged on {where} (mirrored in y)",
        "{signs}put the layout's corners, tiles or cells the other way across",
        (1.0, -1.0),
    ),
    (
        "mirrored x",
        "front and back are exchanged on {where} (mirrored in x)",
        "{signs}put the layout's corners, tiles or cells the other way along",
        (-1.0, 1.0),
    ),
    (
        "turned half",
        "{where} is turned by 180 degrees",
        "turn the platform round, or the corners in the layout",
        (-1.0, -1.0),
    ),
)


def _turned_deck(layout: Layout, bearing: Sequence[Platform]) -> Iterator[Suspect]:
    """Suspects of mirrored and turned platforms and decks."""
    where = _where(bearing)
    for key, text, remedy, (sx, sy) in _TURNS:
        say = text.format(where=where)
        moments, everything = [], []
        for p in bearing:
            ch = p.channels
            if p.kind is PlatformKind.WRENCH:
                moments += [(ch[3], ch[3], sy), (ch[4], ch[4], sx)]
                everything += [(ch[0], ch[0], sx), (ch[1], ch[1], sy), (ch[5], ch[5], sx * sy)]
            elif p.kind is PlatformKind.CELLS:
                moments += _mirrored_cells(p, sx, sy)
        if not moments:
            moments = list(_mirrored_tiles(layout, bearing, sx, sy))
        for moves in [moments, moments + everything] if everything else [moments]:
            if moves:
                do = remedy.format(signs=_signs(bearing, moves))
                yield _suspect(layout, key, Kind.PLACE, (say, do), moves)
    for name, s in (("left", 1.0), ("right", -1.0)):
        moves = []
        for p in bearing:
            if p.kind is PlatformKind.WRENCH:
                fx, fy, _, mx, my, _ = p.channels
                moves += [(fx, fy, s), (fy, fx, -s), (mx, my, s), (my, mx, -s)]
        if moves:
            say = f"the axes of {where} are turned by 90 degrees to the {name}"
            do = "turn the platform, or the order of its corners in the layout"
            yield _suspect(layout, f"turned quarter {name}", Kind.PLACE, (say, do), moves)


def _where(bearing: Sequence[Platform]) -> str:
    """Return what is mirrored or turned: the platforms that bear the load, of tiles all."""
    if not bearing or bearing[0].kind is not PlatformKind.WRENCH:
        return "the whole deck"
    names = " and ".join(p.name for p in bearing)
    return f"the {names} platform{'s' if len(bearing) > 1 else ''}"


def _signs(bearing: Sequence[Platform], moves: Sequence[tuple[int, int, float]]) -> str:
    """Return which channels of wrench platforms have their sign turned by ``moves``, as advice."""
    turned = {to for to, _, sign in moves if sign < 0}
    said = [
        f"{p.name} {_WRENCH[k]} (channel {c})"
        for p in bearing
        if p.kind is PlatformKind.WRENCH
        for k, c in enumerate(p.channels)
        if c in turned
    ]
    return f"turn the sign of {', '.join(said)}, or " if said else ""


def _mirrored_cells(p: Platform, sx: float, sy: float) -> list[tuple[int, int, float]]:
    """Moves that take each cell's readings from its mirror image."""
    assert p.cells is not None
    flat = p.cells[:, :2] - p.cells[:, :2].mean(axis=0)
    moves = []
    for k, place in enumerate(flat):
        image = int(np.argmin(np.linalg.norm(flat - place * (sx, sy), axis=1)))
        to, source = p.channels[3 * k : 3 * k + 3], p.channels[3 * image : 3 * image + 3]
        moves += list(zip(to, source, (sx, sy, 1.0), strict=True))
    return moves


def _mirrored_tiles(
    layout: Layout, bearing: Sequence[Platform], sx: float, sy: float
) -> Iterator[tuple[int, int, float]]:
    """Moves that take every tile's readings from the tile at its mirror image."""
    if not bearing or bearing[0].kind is not PlatformKind.FORCE:
        return
    centres = np.array([p.centre[:2] for p in layout.platforms])
    middle = (centres.max(axis=0) + centres.min(axis=0)) / 2
    for p, centre in zip(layout.platforms, centres, strict=True):
        image = middle + (centre - middle) * (sx, sy)
        source = layout.platforms[int(np.argmin(np.linalg.norm(centres - image, axis=1)))]
        yield from ((a, b, 1.0) for a, b in zip(p.channels, source.channels, strict=True))
