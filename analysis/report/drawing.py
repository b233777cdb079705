"""Plots as SVG text. Lines differ by dash, points by shape: colour is not needed to read them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.page import text
from stream.layout import Array

BLACK, GREY = "#000", "#777"
_FONT = 11
_LEFT, _BOTTOM, _TOP, _RIGHT = 46, 34, 20, 8
#: A point's shape as a path around (0, 0).
DOT = "m-2.2 0a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0-4.4 0"
CROSS = "m-3.5-3.5l7 7m0-7l-7 7"
RING = "m-3.2 0a3.2 3.2 0 1 0 6.4 0a3.2 3.2 0 1 0-6.4 0"


@dataclass(frozen=True, slots=True)
class Range:
    """Values from ``low`` to ``high`` on an axis."""

    low: float
    high: float

    def at(self, values: Array) -> Array:
        """Return where ``values`` lie, 0 at ``low`` and 1 at ``high``; never beyond."""
        return np.interp(values, [self.low, self.high], [0.0, 1.0])


def around(values: Array, *, least: float = 0.0) -> Range:
    """Return a range that holds ``values`` with some air, at least ``least`` wide."""
    known = values[np.isfinite(values)]
    if not known.size:
        return Range(0.0, 1.0)
    low, high = float(known.min()), float(known.max())
    air = max(0.1 * (high - low), 0.5 * (least - (high - low)), 1e-9 + 1e-6 * abs(high))
    return Range(low - air, high + air)


def ticks(span: Range, about: int = 5) -> Array:
    """Return round values inside ``span``, in steps of 1, 2 or 5 times a power of ten."""
    rough = (span.high - span.low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = power * next(m for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough)
    first, last = math.ceil(span.low / step - 1e-9), math.floor(span.high / step + 1e-9)
    return np.array([step * n for n in range(first, last + 1)])


class Panel:
    """One pair of axes at (``left``, 0) in a drawing, ``width`` by ``height`` points in all."""

    def __init__(
        self, left: float, width: float, height: float, x: Range, y: Range, title: str, below: str
    ) -> None:
        self._x, self._y = x, y
        self._x0, self._x1 = left + _LEFT, left + width - _RIGHT
        self._y0, self._y1 = height - _BOTTOM, float(_TOP)
        self._parts: list[str] = []
        self._axes(title, below)

    def line(
        self, xs: Array, ys: Array, *, dash: str = "", width: float = 1.6, ink: str = BLACK
    ) -> None:
        """Draw a line through the points; it breaks where a value is NaN."""
        path = "".join(_polyline(*self._place(xs[part], ys[part])) for part in _stretches(ys))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<path d="{path}" fill="none" stroke="{ink}" stroke-width="{width}"{dashed}/>'
        )

    def band(self, xs: Array, low: Array, high: Array) -> None:
        """Fill between two lines."""
        path = ""
        for part in _stretches(low + high):
            ahead = self._place(xs[part], high[part])
            back = self._place(xs[part][::-1], low[part][::-1])
            path += (
                _polyline(*(np.concatenate(pair) for pair in zip(ahead, back, strict=True))) + "z"
            )
        self._parts.append(f'<path d="{path}" fill="{BLACK}" fill-opacity=".16"/>')

    def points(self, xs: Array, ys: Array, shape: str, *, filled: bool = False) -> None:
        """Put a ``shape`` on every point."""
        if not len(xs):
            return
        across, up = self._place(xs, ys)
        path = "".join(f"M{a:.1f} {b:.1f}{shape}" for a, b in zip(across, up, strict=True))
        look = f'fill="{BLACK}"' if filled else f'fill="none" stroke="{BLACK}" stroke-width="1.2"'
        self._parts.append(f'<path d="{path}" {look}/>')

    def upright(self, x: float, label: str) -> None:
        """Draw a dotted line up at ``x`` with a label at its top."""
        ((at,), _) = self._place(np.array([x]), np.array([self._y.low]))
        self._parts.append(
            f'<path d="M{at:.1f} {self._y0:.1f}V{self._y1:.1f}" stroke="{GREY}" '
            f'stroke-dasharray="1 3"/>{_words(at + 3, self._y1 + 9, label, "start")}'
        )

    def words(self, x: float, y: float, label: str, anchor: str = "start") -> None:
        """Write ``label`` at a point."""
        ((across,), (up,)) = self._place(np.array([x]), np.array([y]))
        self._parts.append(_words(across, up, label, anchor))

    def svg(self) -> str:
        """Return the panel's parts."""
        return "".join(self._parts)

    def _place(self, xs: Array, ys: Array) -> tuple[Array, Array]:
        across = self._x0 + self._x.at(xs) * (self._x1 - self._x0)
        up = self._y0 + self._y.at(ys) * (self._y1 - self._y0)
        return across, up

    def _axes(self, title: str, below: str) -> None:
        frame = f"M{self._x0} {self._y1}V{self._y0}H{self._x1}"
        self._parts.append(f'<path d="{frame}" fill="none" stroke="{BLACK}"/>')
        for value in ticks(self._x):
            ((at,), _) = self._place(np.array([value]), np.array([self._y.low]))
            self._parts.append(f'<path d="M{at:.1f} {self._y0}v4" stroke="{BLACK}"/>')
            self._parts.append(_words(at, self._y0 + 15, _tick(value), "middle"))
        for value in ticks(self._y):
            _, (up,) = self._place(np.array([self._x.low]), np.array([value]))
            self._parts.append(f'<path d="M{self._x0} {up:.1f}h-4" stroke="{BLACK}"/>')
            self._parts.append(_words(self._x0 - 6, up + 4, _tick(value), "end"))
        self._parts.append(_words(self._x0 - _LEFT + 4, self._y1 - 8, title, "start"))
        self._parts.append(_words((self._x0 + self._x1) / 2, self._y0 + 30, below, "middle"))


def drawing(width: float, height: float, panels: Sequence[Panel]) -> str:
    """Return the whole drawing."""
    inside = "".join(panel.svg() for panel in panels)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" font-size="{_FONT}" '
        f'font-family="system-ui, sans-serif">{inside}</svg>'
    )


def _stretches(values: Array) -> list[slice]:
    """Return the stretches of at least two values that are not NaN."""
    known = np.concatenate([[False], np.isfinite(values), [False]])
    edges = np.flatnonzero(known[1:] != known[:-1]).reshape(-1, 2)
    return [slice(a, b) for a, b in edges.tolist() if b - a > 1]


def _polyline(across: Array, up: Array) -> str:
    return "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(across, up, strict=True))


def _words(x: float, y: float, label: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{text(label)}</text>'


def _tick(value: float) -> str:
    return f"{value + 0.0:.6g}".replace("-", "\N{MINUS SIGN}")
