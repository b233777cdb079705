"""Stride: where the lead foot lands."""

from __future__ import annotations

import math

from stream.curves import value_at
from stream.layout import Array
from stream.metrics.registry import Group, Need, measured
from stream.movement import Movement, X, Y

_PLANT = ("foot_plant", "foot_plant")


@measured(
    "stride_m",
    label="Stride",
    short="stride",
    unit="m",
    definition="Lead centre of pressure at foot plant, forward of the front edge of the rubber.",
    source="Kageyama et al. 2015, J Sports Sci Med 14:246-255, Table 2 (85 +- 4 % of height)",
    group=Group.STRIDE,
    span=_PLANT,
    placed=True,
)
def stride_m(m: Movement) -> float | None:
    """Stride length, m."""
    return _place(m.lead.cop[:, X], m.at("foot_plant"))


@measured(
    "stride_height",
    label="Stride / height",
    short="stride/ht",
    unit="",
    definition="Stride over body height.",
    group=Group.STRIDE,
    span=_PLANT,
    placed=True,
    needs=(Need.HEIGHT,),
)
def stride_height(m: Movement) -> float | None:
    """Stride length over body height."""
    stride = stride_m(m)
    return None if stride is None or m.height_m is None else stride / m.height_m


@measured(
    "stride_across_m",
    label="Stride across",
    short="across",
    unit="m",
    definition="Lead centre of pressure at foot plant sideways of the drive foot's at the "
    "push-off peak: + closed (across the body), - open.",
    group=Group.STRIDE,
    span=("drive_peak", "foot_plant"),
    placed=True,
    needs=(Need.HANDEDNESS,),
)
def stride_across_m(m: Movement) -> float | None:
    """Sideways place of the landing, m, positive closed."""
    lead = _place(m.lead.cop[:, Y], m.at("foot_plant"))
    drive = _place(m.drive.cop[:, Y], m.at("drive_peak"))
    if lead is None or drive is None or m.throws is None:
        return None
    return drive - lead if m.throws == "R" else lead - drive


def _place(coordinate: Array, position: float) -> float | None:
    value = value_at(coordinate, position)
    return None if math.isnan(value) else value
