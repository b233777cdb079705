"""Pitches and sessions for the simulator's tests; all of it invented."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from simulators.contacts import Contact
from simulators.curves import Array
from simulators.pitcher import Delivery, pitch
from simulators.profile import Profile, Style, draw_pitch, draw_profile
from stream.files import load_layout
from stream.layout import Layout

STYLES = tuple(Style)


@cache
def layout(name: str = "two-plates") -> Layout:
    return load_layout(name)


@cache
def profile(seed: int, wide: bool = False) -> Profile:
    return draw_profile(np.random.default_rng(seed), f"P{seed:02d}", wide=wide)


@cache
def delivery(seed: int, style: Style | None = None, wide: bool = False) -> Delivery:
    rng = np.random.default_rng([seed, 5])
    who = profile(seed, wide)
    kind = style or STYLES[seed % 3]
    return pitch(rng, who, draw_pitch(rng, who, kind, 0), layout().deck)


def total_force(contacts: tuple[Contact, ...], t: npt.NDArray[np.floating[Any]]) -> Array:
    """Sum of all contacts' forces, (n, 3) N."""
    times: Array = np.asarray(t, dtype=np.float64)
    force = np.zeros((t.size, 3))
    for contact in contacts:
        on = (times >= contact.start) & (times < contact.end)
        if on.any():
            force[on] += contact.force(times[on])
    return force
