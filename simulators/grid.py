"""Forces of both legs on a fine grid of time, and what is read from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulators.contacts import Contact
from simulators.curves import Array

GRID_HZ = 20_000.0


@dataclass(frozen=True, eq=False)
class Grid:
    """Forces (n, 3) N and pressures (n, 2) m of both legs at ``t`` (n,) s from foot contact."""

    t: Array
    drive: Array
    lead: Array
    speed: Array
    drive_cop: Array
    lead_cop: Array

    def at(self, values: Array, time: float) -> float:
        """Return the value at ``time``."""
        return float(np.interp(time, self.t, values))

    def span(self, start: float, end: float) -> slice:
        """Return the rows from ``start`` to ``end``."""
        return slice(
            int(np.searchsorted(self.t, start)), int(np.searchsorted(self.t, end, "right"))
        )

    def integral(self, values: Array, start: float, end: float) -> float:
        """Return the integral from ``start`` to ``end`` by the trapezoid rule."""
        inside = self.span(start, end)
        t = np.concatenate([[start], self.t[inside], [end]])
        v = np.concatenate([[self.at(values, start)], values[inside], [self.at(values, end)]])
        return float(np.trapezoid(v, t))

    def greatest(self, values: Array, start: float, end: float) -> tuple[float, float]:
        """Return (time, value) of the greatest value in a span."""
        inside = self.span(start, end)
        k = inside.start + int(np.argmax(values[inside]))
        return float(self.t[k]), float(values[k])

    def steepest(self, values: Array, start: float, end: float, width: float) -> float | None:
        """Return the steepest rise over ``width`` s within a span, per s."""
        count = round(width * GRID_HZ)
        inside = values[self.span(start, end)]
        if inside.size <= count:
            return None
        return float((inside[count:] - inside[:-count]).max() / width)


def total(contacts: Sequence[Contact], t: Array) -> tuple[Array, Array]:
    """Total force (n, 3) of ``contacts`` and its centre of pressure (n, 2)."""
    force, moment = np.zeros((t.size, 3)), np.zeros((t.size, 2))
    for contact in contacts:
        on = (t >= contact.start) & (t < contact.end)
        if on.any():
            f = contact.force(t[on])
            force[on] += f
            moment[on] += f[:, 2:] * contact.pressure(t[on])
    bearing = force[:, 2] > 1e-6
    with np.errstate(invalid="ignore", divide="ignore"):
        cop = np.where(bearing[:, None], moment / force[:, 2:], np.nan)
    return force, cop
