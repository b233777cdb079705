"""Each fault that a set-up check must name, as a change of the bench. Sizes are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stream.layout import Layout, PlatformKind
from tests.checks.bench import RATE, SPOT, Array, Bench


@dataclass(frozen=True)
class Fault:
    """``named_by`` is the check that must fail; ``also`` may fail with it, and why."""

    name: str
    plant: Callable[[Bench], Bench]
    named_by: str
    blames: str = ""
    layouts: tuple[str, ...] = ("two-plates", "tiled", "four-corner")
    also: tuple[str, ...] = ()


def loaded_channels(lay: Layout, spot: tuple[float, float] = SPOT) -> list[int]:
    """The channels of the platform or of the cell nearest to the spot."""
    inside = [
        p
        for p in lay.platforms
        if (p.corners[:, :2].min(axis=0) <= spot).all()
        and (p.corners[:, :2].max(axis=0) > spot).all()
    ]
    p = inside[0]
    if p.kind is PlatformKind.CELLS:
        assert p.cells is not None
        k = int(np.argmin(np.linalg.norm(p.cells[:, :2] - np.array(spot), axis=1)))
        return list(p.channels[3 * k : 3 * k + 3])
    return list(p.channels)


def _flip(lay: Layout, rows: Array, which: slice) -> Array:
    rows = rows.copy()
    rows[:, loaded_channels(lay)[which]] *= -1
    return rows


def _swap(rows: Array, a: list[int], b: list[int]) -> Array:
    rows = rows.copy()
    rows[:, a + b] = rows[:, b + a]
    return rows


def _axes(lay: Layout, rows: Array, i: int, j: int) -> Array:
    ch = loaded_channels(lay)
    a, b = [ch[i]], [ch[j]]
    if len(ch) == 6:
        a, b = [*a, ch[3 + i]], [*b, ch[3 + j]]
    return _swap(rows, a, b)


def _platforms(lay: Layout, rows: Array) -> Array:
    here = loaded_channels(lay)
    if len(lay.platforms) == 1:  # two cells of one side of the deck
        return _swap(rows, here, list(lay.platforms[0].channels[3:6]))
    if lay.measures_moments:
        return _swap(rows, here, list(lay.platforms[0].channels))
    return _swap(rows, here, list(lay.platforms[7].channels))


def _turned(sx: float, sy: float) -> Callable[[Layout, Array], Array]:
    """The sensors of the loaded platform, or of the whole deck, mirrored or turned."""

    def change(lay: Layout, rows: Array) -> Array:
        out = rows.copy()
        if lay.platforms[0].kind is PlatformKind.WRENCH:
            fx, fy, _, mx, my, mz = loaded_channels(lay)
            out[:, [fx, my]] *= sx
            out[:, [fy, mx]] *= sy
            out[:, mz] *= sx * sy
            return out
        if lay.platforms[0].kind is PlatformKind.CELLS:
            p = lay.platforms[0]
            places = np.asarray(p.cells)[:, :2]
            units = [list(p.channels[3 * k : 3 * k + 3]) for k in range(4)]
        else:
            places = np.array([p.centre[:2] for p in lay.platforms])
            units = [list(p.channels) for p in lay.platforms]
        middle = (places.max(axis=0) + places.min(axis=0)) / 2
        for place, unit in zip(places, units, strict=True):
            image = middle + (place - middle) * (sx, sy)
            k = int(np.argmin(np.linalg.norm(places - image, axis=1)))
            out[:, units[k]] = rows[:, unit]
        return out

    return change


def _gain(lay: Layout, rows: Array) -> Array:
    rows = rows.copy()
    rows[:, loaded_channels(lay)] *= 1.06
    return rows


def _fz_gain(lay: Layout, rows: Array) -> Array:
    rows = rows.copy()
    rows[:, loaded_channels(lay)[2]] *= 0.94
    return rows


def _origin(lay: Layout, rows: Array) -> Array:
    """Moments about the front right corner instead of the surface's centre: M' = M - r x F."""
    rows = rows.copy()
    p = lay.platforms[1]
    r = p.axes.T @ (p.corners[3] - p.centre)
    ch = list(p.channels)
    rows[:, ch[3:]] -= np.cross(r, rows[:, ch[:3]])
    return rows


def _dead(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    out[:, loaded_channels(lay)[2]] = 3.25
    return out


def _offset(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    out[:, loaded_channels(lay)[2]] += 130.0
    return out


def _noise(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    out[:, loaded_channels(lay)[1]] += np.random.default_rng(5).normal(0, 18.0, len(out))
    return out


def _hum(hz: float) -> Callable[[Layout, Array, Array], Array]:
    def change(lay: Layout, out: Array, t: Array) -> Array:
        out = out.copy()
        out[:, loaded_channels(lay)[0]] += 8.0 * np.sin(2 * np.pi * hz * t + 0.4)
        return out

    return change


def _drift(lay: Layout, out: Array, t: Array) -> Array:
    out = out.copy()
    out[:, loaded_channels(lay)[2]] += 1.5 * t
    return out


def _saturated(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    index = loaded_channels(lay)[2]
    reach = next(p.range[2] for p in lay.platforms if index in p.channels and p.range)
    out[:, index] = reach
    return out


def _clipped(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    index = loaded_channels(lay)[2]
    quiet, full = out[:200, index].mean(), out[-200:, index].mean()
    out[:, index] = np.minimum(out[:, index], quiet + 0.6 * (full - quiet))
    return out


def _frozen(lay: Layout, out: Array, _: Array) -> Array:
    out = out.copy()
    index = loaded_channels(lay)[1]
    out[300:500, index] = out[300, index]
    return out


def _copies(_: Layout, out: Array, __: Array) -> Array:
    out = out.copy()
    out[1::2] = out[::2]
    return out


def _wire(change: Callable[[Layout, Array], Array]) -> Callable[[Bench], Bench]:
    return lambda b: b.but(wire=change)


def _after(change: Callable[[Layout, Array, Array], Array]) -> Callable[[Bench], Bench]:
    return lambda b: b.but(after=change)


PLATES = ("two-plates",)
TILES = ("two-plates", "tiled")

FAULTS = (
    Fault("rate 188 Hz", lambda b: b.but(rate=188.0), "rate"),
    Fault(
        "rate 188 Hz, stamped as 200",
        lambda b: b.but(rate=188.0, clock=lambda t: np.round(t * 188 / RATE).astype(np.int64)),
        "rate",
        also=("clock",),  # the device's clock then is wrong as well
    ),
    Fault("lost frames", lambda b: b.but(keep=lambda k: k % 53 != 20), "continuity"),
    Fault("clock jump", lambda b: b.but(clock=lambda t: t + (t > 3e9) * 400_000_000), "clock"),
    Fault("dead channel", _after(_dead), "stuck"),
    Fault("channel freezes", _after(_frozen), "stuck"),
    Fault("every frame twice", _after(_copies), "stuck"),
    Fault("offset", _after(_offset), "zero"),
    Fault("noise", _after(_noise), "noise"),
    Fault("hum 50 Hz", _after(_hum(50.0)), "mains", "50 Hz"),
    Fault("hum 60 Hz", _after(_hum(60.0)), "mains", "60 Hz"),
    Fault("hum 180 Hz, seen at 20 Hz", _after(_hum(180.0)), "mains", "20.0 Hz"),
    Fault("drift", _after(_drift), "drift"),
    Fault("saturated", _after(_saturated), "saturation"),
    Fault("cut off under load", _after(_clipped), "saturation"),
    Fault("wrong gain", _wire(_gain), "weight", "gain"),
    Fault("wrong gain of Fz", _wire(_fz_gain), "weight", "gain"),
    Fault("sense", _wire(lambda lay, r: _flip(lay, r, slice(None))), "signs", "downward"),
    Fault("flipped Fz", _wire(lambda lay, r: _flip(lay, r, slice(2, 3))), "signs"),
    Fault("flipped Fx", _wire(lambda lay, r: _flip(lay, r, slice(0, 1))), "signs", "Fx", TILES),
    Fault("axes x and z", _wire(lambda lay, r: _axes(lay, r, 0, 2)), "signs", "x and z"),
    Fault("axes y and z", _wire(lambda lay, r: _axes(lay, r, 1, 2)), "signs", "y and z"),
    Fault("axes x and y", _wire(lambda lay, r: _axes(lay, r, 0, 1)), "signs", "x and y", TILES),
    Fault("platforms exchanged", _wire(_platforms), "signs", "exchanged"),
    Fault("mirrored y", _wire(_turned(1.0, -1.0)), "position", "left and right"),
    Fault("mirrored x", _wire(_turned(-1.0, 1.0)), "position", "front and back"),
    Fault("turned half", _wire(_turned(-1.0, -1.0)), "position", "180 degrees"),
    Fault("moment origin", _wire(_origin), "position", "front right corner", PLATES),
    Fault(
        "mass beside the mark",
        lambda b: b.but(placed=(1.72, 0.3)),
        "position",
        "",
        ("two-plates", "four-corner"),
    ),
)
