"""Curves of one pitch for a plot: one component of each leg's force, as % of body weight."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from stream.outputs import Array, PitchRecord, Traces


class Component(StrEnum):
    """Which part of the ground reaction is drawn (mound frame)."""

    RESULTANT = "resultant"
    FORWARD = "forward"
    VERTICAL = "vertical"
    SIDE = "side"


_AXIS = {Component.FORWARD: 0, Component.SIDE: 1, Component.VERTICAL: 2}


@dataclass(frozen=True, eq=False)
class Curves:
    """``time_s`` (n,) from foot contact; ``drive``, ``lead`` (n,) in ``unit``."""

    time_s: Array
    drive: Array
    lead: Array
    unit: str


def curves(record: PitchRecord, traces: Traces, component: Component) -> Curves:
    """Return both legs' curves, % of body weight, or newtons where body weight is not known."""
    if component is Component.RESULTANT:
        drive = np.linalg.norm(traces.drive, axis=1)
        lead = np.linalg.norm(traces.lead, axis=1)
    else:
        axis = _AXIS[component]
        drive, lead = traces.drive[:, axis], traces.lead[:, axis]
    weight = record.body_weight_n
    if weight is None:
        return Curves(traces.time_s, drive, lead, "N")
    share = 100.0 / weight
    return Curves(traces.time_s, drive * share, lead * share, "% BW")
