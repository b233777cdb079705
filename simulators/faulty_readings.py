"""Faults of sensors and wiring: what they do to readings, in place.

Each takes readings ``x`` (n, channels), ``t`` (n,) s since the fault began, the
layout and the fault's value.
"""

from __future__ import annotations

import numpy as np

from simulators.curves import Array
from stream.layout import Layout, PlatformKind


def dead(x: Array, t: Array, layout: Layout, value: float) -> None:
    """The channel reads 0."""
    x[:, int(value)] = 0.0


def stuck(x: Array, t: Array, layout: Layout, value: float) -> None:
    """The channel reads always the same."""
    x[:, int(value)] = 123.0


def not_a_number(x: Array, t: Array, layout: Layout, value: float) -> None:
    """Every ``value`` s the first channel is not a number."""
    x[np.floor(t / value) != np.floor((t - 0.005) / value), 0] = np.nan


def sign_flip(x: Array, t: Array, layout: Layout, value: float) -> None:
    """The channel has the wrong sign."""
    x[:, int(value)] *= -1.0


def swapped_axes(x: Array, t: Array, layout: Layout, value: float) -> None:
    """x and y change places."""
    for p in layout.platforms:
        a = list(p.channels)
        for k in range(0, len(a), 3):
            x[:, [a[k], a[k + 1]]] = x[:, [a[k + 1], a[k]]]


def swapped_platforms(x: Array, t: Array, layout: Layout, value: float) -> None:
    """The first and the last platform change places."""
    groups = [list(p.channels) for p in layout.platforms]
    if len(groups) < 2:
        half = len(groups[0]) // 2
        groups = [groups[0][:half], groups[0][half:]]
    first, second = groups[0], groups[-1]
    x[:, first + second] = x[:, second + first]


def mirrored(x: Array, t: Array, layout: Layout, value: float) -> None:
    """Left and right change places."""
    for p in layout.platforms:
        a = list(p.channels)
        if p.cells is not None:
            mirror = p.cells * (1.0, -1.0, 1.0)
            other = [int(np.argmin(np.linalg.norm(p.cells - m, axis=1))) for m in mirror]
            x[:, a] = x[:, [a[3 * cell + k] for cell in other for k in range(3)]]
            x[:, a[1::3]] *= -1.0
        elif p.kind is PlatformKind.WRENCH:
            # Mirrored at the x-z plane: Fy changes sign, and so do Mx and Mz.
            x[:, [a[1], a[3], a[5]]] *= -1.0
        else:
            x[:, a[1]] *= -1.0


def gain(x: Array, t: Array, layout: Layout, value: float) -> None:
    """All readings are ``value`` times too large."""
    x *= value


def moment_origin(x: Array, t: Array, layout: Layout, value: float) -> None:
    """Moments are about a point ``value`` m off, down and along the surface."""
    for p in layout.platforms:
        if p.kind is PlatformKind.WRENCH:
            a = list(p.channels)
            # Moments about a point ``value`` m below the surface instead of on it.
            x[:, a[3]] -= value * x[:, a[1]]
            x[:, a[4]] += value * x[:, a[0]]
            # ... and as far off along the surface.
            x[:, a[4]] += value * x[:, a[2]]


def drift(x: Array, t: Array, layout: Layout, value: float) -> None:
    """The zero drifts by ``value`` N a minute."""
    x += (value / 60.0) * t[:, None] * _forces(layout)


def hum(x: Array, t: Array, layout: Layout, value: float) -> None:
    """Mains at 60 Hz, ``value`` N."""
    x += value * np.sin(2 * np.pi * 60.0 * t)[:, None] * _forces(layout)


def _forces(layout: Layout) -> Array:
    """1 for force channels, 0.3 (m) for moments."""
    scale = np.ones(layout.channels)
    for p in layout.platforms:
        if p.kind is PlatformKind.WRENCH:
            scale[list(p.channels[3:])] = 0.3
    return scale
