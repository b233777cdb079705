"""The truth of a simulated pitch: every event and metric, from the continuous functions.

Nothing is filtered or sampled as a device would: curves are evaluated every
0.05 ms (20 kHz) from the start of the push on, events are found by bisection
on the curves themselves and integrals by the trapezoid rule on that grid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from simulators.body import GRAVITY
from simulators.contacts import Contact, Role
from simulators.curves import Array
from simulators.grid import GRID_HZ, Grid, total
from simulators.pitcher import Delivery

_BRAKE_LIMIT_S = 0.5
_BAND_SD, _HOLD_S = 5.0, 0.050


@dataclass(frozen=True, eq=False)
class Truth:
    """Events (s from foot contact), metrics by key, body weight (N); None where there is none.

    ``contact`` is foot contact on the delivery's own time line, s.
    """

    contact: float
    events_s: dict[str, float | None]
    body_weight_n: float
    metrics: dict[str, float | None]


def measure(delivery: Delivery) -> Truth:
    """Return the truth of one pitch."""
    weight = delivery.profile.body.weight_n
    contact = _foot_contact(delivery, weight)
    first_move = _first_move(delivery)
    grid = _grid(delivery, contact, first_move)
    events = _events(delivery, grid, weight, contact)
    events["first_move"] = None if first_move is None else first_move - contact
    return Truth(contact, events, weight, _metrics(delivery, grid, weight, events))


def _leg(delivery: Delivery, role: Role) -> list[Contact]:
    """The contacts of one leg up to the step-through of the drive foot."""
    return [
        c
        for c in delivery.contacts
        if c.role is role and (role is Role.LEAD or c.start < delivery.drive_end)
    ]


def _foot_contact(delivery: Delivery, weight: float) -> float:
    """When the landing lead foot first bears 10 % of body weight, s on the delivery's line."""
    landing = next(
        c
        for c in delivery.contacts
        if c.role is Role.LEAD and abs(c.start - delivery.contact) < 0.1
    )
    return _root(lambda t: landing.force(np.array([t]))[0, 2] - 0.10 * weight,
                 landing.start + 1e-9, delivery.contact + 0.02)  # fmt: skip


def _first_move(delivery: Delivery) -> float | None:
    """End of quiet standing: the whole deck leaves its quiet band and stays out."""
    start, end = delivery.quiet
    t = np.arange(start, delivery.contact, 1e-3)
    force, cop = total([c for c in delivery.contacts if c.end > start], t)
    signals = np.column_stack([force[:, 2], cop])
    quiet = signals[(t >= end - 1.0) & (t < end)]
    out = (np.abs(signals - quiet.mean(axis=0)) > _BAND_SD * quiet.std(axis=0)).any(axis=1)
    hold = round(_HOLD_S * 1e3)
    held = np.convolve(out, np.ones(hold), "valid") > hold - 0.5
    held &= t[: held.size] >= end - 1.0
    return float(t[int(np.argmax(held))]) if held.any() else None


def _grid(delivery: Delivery, contact: float, first_move: float | None) -> Grid:
    start = (delivery.quiet[1] if first_move is None else first_move) - contact
    # What happens before the push is slow: a coarser grid serves.
    fine = max(delivery.push - contact, start + 1e-3)
    slow = np.arange(start, fine, 1e-3)
    t = np.concatenate([slow, np.arange(slow[-1], 0.56, 1.0 / GRID_HZ)[1:]])
    drive, drive_cop = total(_leg(delivery, Role.DRIVE), t + contact)
    lead, lead_cop = total(_leg(delivery, Role.LEAD), t + contact)
    speed = delivery.way.velocity(t + contact)[:, 0]
    return Grid(t, drive, lead, speed, drive_cop, lead_cop)


def _events(delivery: Delivery, g: Grid, weight: float, contact: float) -> dict[str, float | None]:
    drive, lead = _leg(delivery, Role.DRIVE), _leg(delivery, Role.LEAD)

    def value(contacts: list[Contact], axis: int) -> Callable[[float], float]:
        return lambda t: float(total(contacts, np.array([t + contact]))[0][0, axis])

    rise = _crossing(g, g.drive[:, 0], value(drive, 0), 0.05 * weight, (g.t[0], 0.0), "last up")
    lift = _crossing(g, g.lead[:, 2], value(lead, 2), 0.05 * weight, (g.t[0], 0.0), "last down")
    onset = max((at for at in (rise, lift) if at is not None), default=None)
    peak_from = -0.5 if onset is None else onset
    toe_off = _crossing(
        g, g.drive[:, 2], value(drive, 2), 0.10 * weight,
        (g.greatest(g.drive[:, 2], -0.4, 0.0)[0], 0.4), "down",
    )  # fmt: skip
    plant = _crossing(g, g.lead[:, 2], value(lead, 2), weight, (0.0, 0.3), "up")
    braking_at = g.greatest(-g.lead[:, 0], 0.0, 0.2)[0]
    brake_end = _crossing(g, g.lead[:, 0], value(lead, 0), 0.0, (braking_at, _BRAKE_LIMIT_S), "up")
    brake_end = _BRAKE_LIMIT_S if brake_end is None else brake_end
    until = 0.2 if toe_off is None else toe_off
    return {
        "first_move": None,
        "drive_onset": onset,
        "drive_peak": g.greatest(np.linalg.norm(g.drive, axis=1), peak_from, until)[0],
        "foot_contact": 0.0,
        "foot_plant": plant,
        "landing_peak": g.greatest(np.linalg.norm(g.lead, axis=1), 0.0, brake_end)[0],
        "drive_toe_off": toe_off,
        "brake_end": brake_end,
    }


def _metrics(
    delivery: Delivery, g: Grid, weight: float, events: dict[str, float | None]
) -> dict[str, float | None]:
    toe_off, plant, first = (events[k] for k in ("drive_toe_off", "foot_plant", "first_move"))
    peak, landing, brake_end = (
        float(events[k] or 0.0) for k in ("drive_peak", "landing_peak", "brake_end")
    )
    mass = weight / GRAVITY
    drive, lead = np.linalg.norm(g.drive, axis=1), np.linalg.norm(g.lead, axis=1)
    whole = g.drive + g.lead
    power = whole[:, 0] * g.speed / mass
    share = 100.0 / weight
    m: dict[str, float | None] = {
        "drive_peak_n": g.at(drive, peak),
        "drive_peak_bw": g.at(drive, peak) * share,
        "drive_angle_deg": _angle(g, g.drive, peak, 1.0),
        "push_remaining_bw": g.at(drive, 0.0) * share,
        "landing_peak_n": g.at(lead, landing),
        "landing_peak_bw": g.at(lead, landing) * share,
        "landing_braking_bw": g.greatest(-g.lead[:, 0], 0.0, brake_end)[1] * share,
        "landing_vertical_bw": g.greatest(g.lead[:, 2], 0.0, brake_end)[1] * share,
        "landing_side_bw": g.greatest(np.abs(g.lead[:, 1]), 0.0, brake_end)[1] * share,
        "landing_angle_deg": _angle(g, g.lead, landing, -1.0),
        "landing_braking_impulse_ns": -g.integral(g.lead[:, 0], 0.0, brake_end),
        "landing_rise_bw_per_s": _times(g.steepest(lead, 0.0, landing, 0.020), share),
        "landing_time_to_peak_s": landing,
        "landing_to_drive_ratio": g.at(lead, landing) / g.at(drive, peak),
        "forward_speed_mps": g.at(g.speed, 0.0),
        "peak_forward_speed_mps": g.greatest(g.speed, -1.0, brake_end)[1],
        "forward_speed_remaining_mps": g.at(g.speed, brake_end),
        "drive_power_wkg": g.greatest(power, g.t[0], 0.0)[1],
        "braking_power_wkg": -g.greatest(-power, 0.0, brake_end)[1],
        "braking_work_j": g.integral(power * mass, 0.0, brake_end),
        "drive_work_j": None if first is None else g.integral(power * mass, first, 0.0),
        "overlap_s": None if toe_off is None else max(toe_off, 0.0),
        **_stride(delivery, g, plant, peak),
    }
    return m | _from_onset(delivery, g, weight, events, peak)


def _from_onset(
    delivery: Delivery,
    g: Grid,
    weight: float,
    events: dict[str, float | None],
    peak: float,
) -> dict[str, float | None]:
    """The push-off's metrics that begin at drive onset; all None where there is no onset."""
    keys = ("drive_forward_bw", "drive_vertical_bw", "drive_side_bw", "drive_forward_impulse_ns",
            "drive_vertical_impulse_ns", "drive_rise_bw_per_s", "drive_time_s")  # fmt: skip
    onset, toe_off = events["drive_onset"], events["drive_toe_off"]
    if onset is None:
        return dict.fromkeys(keys)
    until = 0.2 if toe_off is None else toe_off
    share, side = 100.0 / weight, delivery.profile.side
    drive = np.linalg.norm(g.drive, axis=1)
    surplus = g.drive[:, 2] + g.lead[:, 2] - weight
    fine = max(onset, delivery.push - delivery.contact + 0.01)
    values = (
        g.greatest(g.drive[:, 0], onset, until)[1] * share,
        g.greatest(g.drive[:, 2], onset, until)[1] * share,
        g.greatest(side * g.drive[:, 1], onset, until)[1] * share,
        g.integral(g.drive[:, 0], onset, 0.0),
        g.integral(surplus, onset, 0.0),
        _times(g.steepest(drive, fine, peak, 0.050), share),
        -onset,
    )
    return dict(zip(keys, values, strict=True))


def _stride(
    delivery: Delivery, g: Grid, plant: float | None, peak: float
) -> dict[str, float | None]:
    if plant is None:
        return dict.fromkeys(("stride_m", "stride_height", "stride_across_m"))
    x, y = (g.at(g.lead_cop[:, k], plant) for k in (0, 1))
    across = delivery.profile.side * (y - g.at(g.drive_cop[:, 1], peak))
    height = delivery.profile.body.height_m
    return {"stride_m": x, "stride_height": x / height, "stride_across_m": across}


def _angle(g: Grid, force: Array, time: float, sense: float) -> float:
    up, along = g.at(force[:, 2], time), g.at(force[:, 0], time)
    return float(np.degrees(np.arctan2(up, sense * along)))


def _crossing(
    g: Grid,
    values: Array,
    exact: Callable[[float], float],
    level: float,
    span: tuple[float, float],
    which: str,
) -> float | None:
    """Return when the curve crosses ``level`` (first "up", "down"; "last up", "last down")."""
    inside = g.span(*span)
    below = values[inside] < level
    change = below[:-1] & ~below[1:] if which.endswith("up") else ~below[:-1] & below[1:]
    places = np.flatnonzero(change)
    if places.size == 0:
        return None
    k = inside.start + int(places[-1 if which.startswith("last") else 0])
    return _root(lambda t: exact(t) - level, float(g.t[k]), float(g.t[k + 1]))


def _root(surplus: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(surplus, low, high, xtol=1e-9))


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor
