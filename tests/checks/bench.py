"""A mass on a deck, made here from first principles and independent of the product's own matrices.

Everything in it is invented: noise, offsets and faults are drawn from a seed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from stream.checks.evidence import Evidence, Loaded, Quiet, Timing
from stream.checks.survey import Survey
from stream.files import load_layout
from stream.layout import Layout, Platform, PlatformKind
from stream.wire import ForceMessage

Array = npt.NDArray[np.float64]
G = 9.80665
RATE = 200.0
#: A spot off both middle lines, on the slope and not on the edge of a tile.
SPOT = (1.80, 0.30)


def layout(name: str) -> Layout:
    return load_layout(name)


def reads(lay: Layout, mass_kg: float, spot: tuple[float, float]) -> Array:
    """Ideal channels (channels,) under a mass: reaction upward, moments about surface centres."""
    out = np.zeros(lay.channels)
    x, y = spot
    point = np.array([x, y, float(lay.deck.height(x))])
    force = np.array([0.0, 0.0, mass_kg * G])
    for p in lay.platforms:
        low, high = p.corners[:, :2].min(axis=0), p.corners[:, :2].max(axis=0)
        if not ((low <= point[:2]).all() and (point[:2] < high).all()):
            continue
        if p.kind is PlatformKind.CELLS:
            out[list(p.channels)] = _four_cells(p, point, force)
            continue
        # Slope from the corners themselves: rise over run along x.
        run, rise = p.corners[0, 0] - p.corners[1, 0], p.corners[0, 2] - p.corners[1, 2]
        angle = np.arctan2(rise, run)
        c, s = np.cos(angle), np.sin(angle)
        local = np.array([c * force[0] + s * force[2], force[1], -s * force[0] + c * force[2]])
        out[list(p.channels[:3])] = local
        if p.kind is PlatformKind.WRENCH:
            along = (x - p.corners[:, 0].mean()) / c
            r = np.array([along, y - p.corners[:, 1].mean(), 0.0])
            out[list(p.channels[3:])] = np.cross(r, local)
    return out


def _four_cells(p: Platform, point: Array, force: Array) -> Array:
    """A hinged deck: each cell carries the lever rule's share both ways."""
    assert p.cells is not None
    low, high = p.cells.min(axis=0), p.cells.max(axis=0)
    u, v = (point[:2] - low[:2]) / (high[:2] - low[:2])
    shares = [(u if c[0] > 1 else 1 - u) * (v if c[1] > 0 else 1 - v) for c in p.cells]
    return np.concatenate([s * force for s in shares])


@dataclass(frozen=True)
class Bench:
    """One simulated set-up check; ``wire`` changes readings (n, channels) as a fault does."""

    name: str = "two-plates"
    seed: int = 0
    seconds: float = 5.0
    mass_kg: float = 20.0
    spot: tuple[float, float] = SPOT
    placed: tuple[float, float] | None = None
    noise: float = 1.0
    offset: float = 5.0
    rate: float = RATE
    wire: Callable[[Layout, Array], Array] | None = None
    after: Callable[[Layout, Array, Array], Array] | None = None
    clock: Callable[[npt.NDArray[np.int64]], npt.NDArray[np.int64]] | None = None
    keep: Callable[[int], bool] = field(default=lambda _: True)
    block: int = 10
    give_mass: bool = True
    give_spot: bool = True

    @property
    def layout(self) -> Layout:
        return layout(self.name)

    def channels(self) -> Array:
        """Raw readings, (n, channels): empty, half a second of putting down, loaded."""
        lay = self.layout
        rng = np.random.default_rng([self.seed, 11])
        n = round(self.seconds * RATE) + 100
        ideal = np.zeros((2 * n, lay.channels))
        full = reads(lay, self.mass_kg, self.placed or self.spot)
        ramp = np.clip((np.arange(2 * n) - n) / 50.0, 0.0, 1.0)
        ideal += ramp[:, None] * full
        if self.wire:
            ideal = self.wire(lay, ideal)
        scale = np.ones(lay.channels)
        for p in lay.platforms:
            if p.kind is PlatformKind.WRENCH:
                scale[list(p.channels[3:])] = 0.3
        out = ideal + self.offset * scale * rng.standard_normal(lay.channels)
        out += self.noise * scale * rng.standard_normal(ideal.shape)
        if self.after:
            out = self.after(lay, out, np.arange(len(out)) / self.rate)
        return out.astype(np.float32).astype(float)

    def messages(self) -> list[tuple[ForceMessage, int]]:
        """The feed: each message and when it came (ns)."""
        rows = self.channels().astype(np.float32)
        rng = np.random.default_rng([self.seed, 12])
        found = []
        for k, first in enumerate(range(0, len(rows), self.block)):
            part = rows[first : first + self.block]
            t = np.array([round(first / self.rate * 1e9)], dtype=np.int64)
            ready = (first + len(part)) / self.rate
            late = 0.0002 + rng.exponential(0.0003) + (0.02 if rng.random() < 1 / 15 else 0.0)
            host = round((ready + late + 0.25) * 1e9)
            if self.clock:
                t = self.clock(t)
            if self.keep(k):
                message = ForceMessage("mound-a", "s", first, int(t[0]), RATE, part)
                found.append((message, host))
        return found

    def evidence(self) -> Evidence:
        """The evidence as a recording's two readings would give it."""
        from stream.checks.stretches import collect, empty_and_loaded

        lay = self.layout
        survey = Survey(lay)
        feed = self.messages()
        for message, came in feed:
            survey.add(message, came)
        expected = self.mass_kg * G if self.give_mass else None
        spans = empty_and_loaded(lay, survey.steady(1.0), RATE, expected)
        quiet, loaded = collect(survey, (m for m, _ in feed), *spans)
        return Evidence(
            layout=lay,
            timing=survey.timing(),
            quiet=quiet,
            loaded=loaded,
            reach=survey.reach(),
            mass_kg=self.mass_kg if self.give_mass else None,
            spot=self.spot if self.give_spot else None,
        )

    def but(self, **changes: object) -> Bench:
        return replace(self, **changes)  # type: ignore[arg-type]


__all__ = ["RATE", "SPOT", "Array", "Bench", "G", "Loaded", "Quiet", "Timing", "layout", "reads"]
