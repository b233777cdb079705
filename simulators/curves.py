"""Smooth functions of time, as piecewise polynomials.

A course is where a centre of mass goes. Between two knots (position, velocity,
acceleration) it is the one quintic through both; where a force is given, it is
that force integrated twice. Either way it is a polynomial of degree five or
less, so velocity and force are exact and momentum is kept by construction.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator, PPoly, make_interp_spline

Array = npt.NDArray[np.float64]
_DEGREE = 5


def through(*points: tuple[float, float]) -> PPoly:
    """Return the monotone cubic interpolant (PCHIP) through (time, value) ``points``.

    It does not overshoot: an extreme lies exactly at its point.
    """
    times, values = zip(*points, strict=True)
    return PchipInterpolator(times, values)


def over(curve: PPoly, start: float, end: float) -> float:
    """Return the exact integral of ``curve`` from ``start`` to ``end``."""
    return float(curve.integrate(start, end))


def smooth_step(s: npt.ArrayLike) -> Array:
    """Return 0 below s = 0, 1 above s = 1, and the quintic with flat ends between."""
    u = np.clip(np.asarray(s, dtype=float), 0.0, 1.0)
    return np.asarray(u * u * u * (10.0 - 15.0 * u + 6.0 * u * u))


class Course:
    """The way of a centre of mass, (x, y, z) in m, built piece by piece from rest."""

    def __init__(self, position: npt.ArrayLike) -> None:
        self.time = 0.0
        self.position: Array = np.array(position, dtype=float)
        self.velocity: Array = np.zeros(3)
        self.acceleration: Array = np.zeros(3)
        self._breaks: tuple[list[float], ...] = ([0.0], [0.0], [0.0])
        self._pieces: tuple[list[Array], ...] = ([], [], [])

    def to(
        self,
        time: float,
        position: npt.ArrayLike,
        velocity: npt.ArrayLike = (0.0, 0.0, 0.0),
        acceleration: npt.ArrayLike = (0.0, 0.0, 0.0),
    ) -> None:
        """Go on to ``position`` at ``time``, there with the given velocity and acceleration."""
        p, v, a = (np.array(q, dtype=float) for q in (position, velocity, acceleration))
        span = time - self.time
        coefficients = _quintic((self.position, self.velocity, self.acceleration), (p, v, a), span)
        for axis in range(3):
            self._breaks[axis].append(time)
            self._pieces[axis].append(coefficients[:, axis])
        self.time, self.position, self.velocity, self.acceleration = time, p, v, a

    def along(self, times: npt.ArrayLike, places: npt.ArrayLike) -> None:
        """Go on through ``places`` (k, 3) at ``times`` (k,), smoothly, to rest at the last.

        A quintic spline: the smoothest of ways through them, force included.
        """
        t = np.concatenate([[self.time], np.asarray(times, dtype=float)])
        p = np.vstack([self.position, np.asarray(places, dtype=float)])
        still = np.zeros(3)
        # SciPy takes (derivative, value) pairs at each end; its stubs do not know them.
        ends: Any = (
            [(1, self.velocity), (2, self.acceleration)],
            [(1, still), (2, still)],
        )
        spline = make_interp_spline(t, p, k=_DEGREE, bc_type=ends)
        for axis in range(3):
            pieces = PPoly.from_spline((spline.t, spline.c[:, axis], _DEGREE))
            for start, end, column in zip(pieces.x[:-1], pieces.x[1:], pieces.c.T, strict=True):
                if end > start:
                    self._breaks[axis].append(float(end))
                    self._pieces[axis].append(column)
        self.time, self.position = float(t[-1]), p[-1].copy()
        self.velocity, self.acceleration = still.copy(), still.copy()

    def driven(self, time: float, accelerations: tuple[PPoly, PPoly, PPoly]) -> None:
        """Go on until ``time`` under given accelerations (m/s^2, cubic pieces that begin now)."""
        for axis, curve in enumerate(accelerations):
            p, v = self.position[axis], self.velocity[axis]
            speed = curve.antiderivative()
            place = speed.antiderivative()
            inside = (curve.x > self.time + 1e-12) & (curve.x < time - 1e-12)
            edges = np.concatenate([[self.time], curve.x[inside], [time]])
            v0, p0 = float(speed(self.time)), float(place(self.time))
            for start, end in pairwise(edges):
                derivatives = [
                    p + float(place(start)) - p0 + (v - v0) * (start - self.time),
                    v + float(speed(start)) - v0,
                    *(float(curve(start, k)) for k in range(4)),
                ]
                factorials = (1.0, 1.0, 2.0, 6.0, 24.0, 120.0)
                taylor = [d / f for d, f in zip(derivatives, factorials, strict=True)]
                self._pieces[axis].append(np.array(taylor[::-1]))
                self._breaks[axis].append(float(end))
            self.position[axis] = p + float(place(time)) - p0 + (v - v0) * (time - self.time)
            self.velocity[axis] = v + float(speed(time)) - v0
            self.acceleration[axis] = float(curve(time))
        self.time = time

    def finish(self) -> Way:
        """Return the course so far as functions of time."""
        axes = tuple(
            PPoly(np.column_stack(pieces), np.array(breaks))
            for pieces, breaks in zip(self._pieces, self._breaks, strict=True)
        )
        return Way(axes)


class Way:
    """Position, velocity and acceleration of a centre of mass; each (n,) s -> (n, 3)."""

    def __init__(self, axes: tuple[PPoly, ...]) -> None:
        self._place = axes
        self._speed = tuple(axis.derivative() for axis in axes)
        self._push = tuple(axis.derivative() for axis in self._speed)
        self.end = float(axes[0].x[-1])

    def position(self, t: Array) -> Array:
        """Return where it is, (n, 3) m."""
        return np.column_stack([axis(t) for axis in self._place])

    def velocity(self, t: Array) -> Array:
        """Return how fast it goes, (n, 3) m/s."""
        return np.column_stack([axis(t) for axis in self._speed])

    def acceleration(self, t: Array) -> Array:
        """Return its acceleration, (n, 3) m/s^2."""
        return np.column_stack([axis(t) for axis in self._push])


def _quintic(
    start: tuple[Array, Array, Array], end: tuple[Array, Array, Array], span: float
) -> Array:
    """Coefficients (6, 3), highest power first, of the quintic between two states."""
    p0, v0, a0 = start
    p1, v1, a1 = end
    T = span
    d = p1 - p0
    c3 = (20 * d - (8 * v1 + 12 * v0) * T - (3 * a0 - a1) * T * T) / (2 * T**3)
    c4 = (-30 * d + (14 * v1 + 16 * v0) * T + (3 * a0 - 2 * a1) * T * T) / (2 * T**4)
    c5 = (12 * d - 6 * (v1 + v0) * T - (a0 - a1) * T * T) / (2 * T**5)
    return np.array([c5, c4, c3, a0 / 2, v0, p0])
