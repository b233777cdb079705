"""Landing: how the lead leg takes the load and brakes."""

from __future__ import annotations

import math

import numpy as np

from stream.curves import between, integral, peak_value, steepest_slope, value_at
from stream.layout import Array
from stream.metrics.push_off import drive_peak_bw
from stream.metrics.registry import Group, Lack, measured
from stream.movement import Movement, X, Y, Z

_PEAK = ("landing_peak", "landing_peak")
_BRAKE = ("foot_contact", "brake_end")
_KAGEYAMA = "Kageyama et al. 2015, J Sports Sci Med 14:246-255, Table 4"


@measured(
    "landing_peak_n",
    label="Landing peak",
    short="land N",
    unit="N",
    definition="Resultant lead-leg force at its peak between foot contact and brake end.",
    source=_KAGEYAMA,
    group=Group.LANDING,
    span=_PEAK,
)
def landing_peak_n(m: Movement) -> float:
    """Resultant at `landing_peak`, N."""
    return peak_value(m.lead.resultant, m.at("landing_peak"))


@measured(
    "landing_peak_bw",
    label="Landing peak",
    short="land",
    unit="% BW",
    definition="Resultant lead-leg force at its peak, per cent of body weight.",
    source=_KAGEYAMA,
    group=Group.LANDING,
    span=_PEAK,
)
def landing_peak_bw(m: Movement) -> float:
    """Resultant at `landing_peak`, % of body weight."""
    return 100.0 * landing_peak_n(m) / m.weight_n


@measured(
    "landing_braking_bw",
    label="Landing braking",
    short="brake",
    unit="% BW",
    definition="Greatest braking (towards second base) lead-leg force, foot contact to brake end.",
    source=_KAGEYAMA,
    group=Group.LANDING,
    span=_BRAKE,
)
def landing_braking_bw(m: Movement) -> float:
    """Greatest lead-leg -Fx, % of body weight."""
    return _greatest_bw(m, -m.lead.force[:, X])


@measured(
    "landing_vertical_bw",
    label="Landing vertical",
    short="land vert",
    unit="% BW",
    definition="Greatest vertical lead-leg force, foot contact to brake end.",
    source=_KAGEYAMA,
    group=Group.LANDING,
    span=_BRAKE,
)
def landing_vertical_bw(m: Movement) -> float:
    """Greatest lead-leg Fz, % of body weight."""
    return _greatest_bw(m, m.lead.force[:, Z])


@measured(
    "landing_side_bw",
    label="Landing sideways",
    short="land side",
    unit="% BW",
    definition="Greatest sideways lead-leg force, either way, foot contact to brake end.",
    group=Group.LANDING,
    span=_BRAKE,
)
def landing_side_bw(m: Movement) -> float:
    """Greatest lead-leg |Fy|, % of body weight."""
    return _greatest_bw(m, np.abs(m.lead.force[:, Y]))


@measured(
    "landing_angle_deg",
    label="Landing angle",
    short="land deg",
    unit="deg",
    definition="Direction of the lead force at its peak, above the horizontal towards second "
    "base, in the x-z plane.",
    group=Group.LANDING,
    span=_PEAK,
)
def landing_angle_deg(m: Movement) -> float:
    """Angle of the lead force above the horizontal towards second base, degrees."""
    peak = m.at("landing_peak")
    back, up = -value_at(m.lead.force[:, X], peak), value_at(m.lead.force[:, Z], peak)
    return math.degrees(math.atan2(up, back))


@measured(
    "landing_braking_impulse_ns",
    label="Landing braking impulse",
    short="brake imp",
    unit="N s",
    definition="Integral of lead-leg -Fx, foot contact to brake end.",
    group=Group.LANDING,
    span=_BRAKE,
)
def landing_braking_impulse_ns(m: Movement) -> float:
    """Braking impulse of the lead leg, N s."""
    return -integral(m.lead.force[:, X], m.at("foot_contact"), m.at("brake_end"), m.rate_hz)


@measured(
    "landing_rise_bw_per_s",
    label="Landing rise",
    short="land rise",
    unit="% BW/s",
    definition="Steepest 20 ms slope of the lead resultant from foot contact to landing peak. "
    "At 200 Hz slopes read low: never compare with figures from 1,000 Hz plates.",
    group=Group.LANDING,
    span=("foot_contact", "landing_peak"),
    lack=Lack.SHORT,
)
def landing_rise_bw_per_s(m: Movement) -> float | None:
    """Steepest 20 ms slope of the lead resultant, % of body weight per second."""
    slope = steepest_slope(
        m.lead.resultant, m.at("foot_contact"), m.at("landing_peak"), 0.020 * m.rate_hz
    )
    return None if slope is None else 100.0 * slope * m.rate_hz / m.weight_n


@measured(
    "landing_time_to_peak_s",
    label="Landing time to peak",
    short="to peak",
    unit="s",
    definition="Foot contact to landing peak.",
    source="Guido & Werner 2012, J Strength Cond Res 26(7):1782-1785 (vertical, about 45 ms)",
    group=Group.TIMING,
    span=("foot_contact", "landing_peak"),
)
def landing_time_to_peak_s(m: Movement) -> float:
    """Time from foot contact to landing peak, s."""
    return (m.at("landing_peak") - m.at("foot_contact")) / m.rate_hz


@measured(
    "landing_to_drive_ratio",
    label="Landing to push-off",
    short="land/push",
    unit="",
    definition="Landing peak over push-off peak.",
    group=Group.LANDING,
    span=("drive_peak", "landing_peak"),
)
def landing_to_drive_ratio(m: Movement) -> float:
    """Landing peak over push-off peak."""
    return landing_peak_bw(m) / drive_peak_bw(m)


def _greatest_bw(m: Movement, values: Array) -> float:
    span = between(values, m.at("foot_contact"), m.at("brake_end"))
    return 100.0 * float(span.max()) / m.weight_n
