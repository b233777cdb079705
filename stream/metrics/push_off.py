"""Push-off: how the drive leg loads and leaves the rubber."""

from __future__ import annotations

import math

from stream.curves import (
    between,
    integral,
    peak_value,
    steepest_slope,
    value_at,
)
from stream.events import lead_foot_left
from stream.metrics.registry import Group, Lack, Need, measured
from stream.movement import Movement, X, Y, Z

_PEAK = ("drive_peak", "drive_peak")
_DRIVE = ("drive_onset", "drive_toe_off")
_PUSH = ("drive_onset", "foot_contact")
_KAGEYAMA = "Kageyama et al. 2015, J Sports Sci Med 14:246-255, Table 4"


@measured(
    "drive_peak_n",
    label="Push-off peak",
    short="push N",
    unit="N",
    definition="Resultant drive-leg force at its peak between drive onset and drive toe-off.",
    source=_KAGEYAMA,
    group=Group.PUSH_OFF,
    span=_PEAK,
)
def drive_peak_n(m: Movement) -> float:
    """Resultant at `drive_peak`, N."""
    return peak_value(m.drive.resultant, m.at("drive_peak"))


@measured(
    "drive_peak_bw",
    label="Push-off peak",
    short="push",
    unit="% BW",
    definition="Resultant drive-leg force at its peak, per cent of body weight.",
    source=_KAGEYAMA,
    group=Group.PUSH_OFF,
    span=_PEAK,
)
def drive_peak_bw(m: Movement) -> float:
    """Resultant at `drive_peak`, % of body weight."""
    return 100.0 * drive_peak_n(m) / m.weight_n


@measured(
    "drive_forward_bw",
    label="Push-off forward",
    short="push fwd",
    unit="% BW",
    definition="Greatest forward (towards home) drive-leg force, drive onset to toe-off.",
    source=_KAGEYAMA,
    group=Group.PUSH_OFF,
    span=_DRIVE,
)
def drive_forward_bw(m: Movement) -> float:
    """Greatest drive-leg Fx, % of body weight."""
    return _greatest_bw(m, X)


@measured(
    "drive_vertical_bw",
    label="Push-off vertical",
    short="push vert",
    unit="% BW",
    definition="Greatest vertical drive-leg force, drive onset to toe-off.",
    source=_KAGEYAMA,
    group=Group.PUSH_OFF,
    span=_DRIVE,
)
def drive_vertical_bw(m: Movement) -> float:
    """Greatest drive-leg Fz, % of body weight."""
    return _greatest_bw(m, Z)


@measured(
    "drive_side_bw",
    label="Push-off sideways",
    short="push side",
    unit="% BW",
    definition="Greatest drive-leg force towards the arm side, drive onset to toe-off.",
    group=Group.PUSH_OFF,
    span=_DRIVE,
    needs=(Need.HANDEDNESS,),
)
def drive_side_bw(m: Movement) -> float | None:
    """Greatest drive-leg force towards the arm side, % of body weight."""
    side = m.towards_arm_side(m.drive.force[:, Y])
    if side is None:
        return None
    span = between(side, m.at("drive_onset"), m.at("drive_toe_off"))
    return 100.0 * float(span.max()) / m.weight_n


@measured(
    "drive_angle_deg",
    label="Push-off angle",
    short="push deg",
    unit="deg",
    definition="Direction of the drive force at its peak, above horizontal, in the x-z plane.",
    group=Group.PUSH_OFF,
    span=_PEAK,
)
def drive_angle_deg(m: Movement) -> float:
    """Angle of the drive force above the horizontal towards home at `drive_peak`, degrees."""
    peak = m.at("drive_peak")
    forward, up = value_at(m.drive.force[:, X], peak), value_at(m.drive.force[:, Z], peak)
    return math.degrees(math.atan2(up, forward))


@measured(
    "drive_forward_impulse_ns",
    label="Push-off forward impulse",
    short="push imp",
    unit="N s",
    definition="Integral of drive-leg Fx, drive onset to foot contact.",
    group=Group.PUSH_OFF,
    span=_PUSH,
)
def drive_forward_impulse_ns(m: Movement) -> float:
    """Forward impulse of the drive leg, N s."""
    span = m.at("drive_onset"), m.at("foot_contact")
    return integral(m.drive.force[:, X], *span, m.rate_hz)


@measured(
    "drive_vertical_impulse_ns",
    label="Net vertical impulse",
    short="vert imp",
    unit="N s",
    definition="Integral of (whole-deck Fz - body weight), drive onset to foot contact.",
    group=Group.PUSH_OFF,
    span=_PUSH,
    whole_deck=True,
)
def drive_vertical_impulse_ns(m: Movement) -> float:
    """Net vertical impulse on the body, N s."""
    span = m.at("drive_onset"), m.at("foot_contact")
    return integral(m.deck[:, Z] - m.weight_n, *span, m.rate_hz)


@measured(
    "drive_rise_bw_per_s",
    label="Push-off rise",
    short="push rise",
    unit="% BW/s",
    definition="Steepest 50 ms slope of the drive resultant up to drive peak, from drive onset or, "
    "if that is later, from 50 ms after the lead foot left the deck (5 % of body weight). At "
    "200 Hz slopes read low: never compare with figures from 1,000 Hz plates.",
    group=Group.PUSH_OFF,
    span=("drive_onset", "drive_peak"),
    lack=Lack.SHORT,
)
def drive_rise_bw_per_s(m: Movement) -> float | None:
    """Steepest 50 ms slope of the drive resultant, % of body weight per second."""
    peak, span = m.at("drive_peak"), 0.050 * m.rate_hz
    left = lead_foot_left(m.lead.force[:, Z], m.weight_n, peak)
    start = m.at("drive_onset") if left is None else max(m.at("drive_onset"), left + span)
    slope = steepest_slope(m.drive.resultant, start, peak, span)
    return None if slope is None else 100.0 * slope * m.rate_hz / m.weight_n


@measured(
    "drive_time_s",
    label="Push-off time",
    short="push time",
    unit="s",
    definition="Drive onset to foot contact.",
    group=Group.TIMING,
    span=_PUSH,
)
def drive_time_s(m: Movement) -> float:
    """Time from drive onset to foot contact, s."""
    return (m.at("foot_contact") - m.at("drive_onset")) / m.rate_hz


@measured(
    "push_remaining_bw",
    label="Push-off remaining at contact",
    short="rem. push",
    unit="% BW",
    definition="Drive resultant at foot contact.",
    group=Group.PUSH_OFF,
    span=("foot_contact", "foot_contact"),
)
def push_remaining_bw(m: Movement) -> float:
    """Drive resultant at foot contact, % of body weight."""
    return 100.0 * value_at(m.drive.resultant, m.at("foot_contact")) / m.weight_n


@measured(
    "overlap_s",
    label="Both feet loaded",
    short="overlap",
    unit="s",
    definition="Foot contact to drive toe-off; 0 if the drive foot had left before.",
    group=Group.TIMING,
    span=("foot_contact", "drive_toe_off"),
)
def overlap_s(m: Movement) -> float:
    """Time with both feet loaded, s."""
    return max(0.0, m.at("drive_toe_off") - m.at("foot_contact")) / m.rate_hz


def _greatest_bw(m: Movement, axis: int) -> float:
    span = between(m.drive.force[:, axis], m.at("drive_onset"), m.at("drive_toe_off"))
    return 100.0 * float(span.max()) / m.weight_n
