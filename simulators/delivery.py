"""Force curves of one delivery from the lifted knee to the end of braking.

Time in s from foot contact, force in body weights, axes (x towards home, a
towards the arm side, z up). Shapes follow published traces of push-off and
landing in words (vertical force under body weight while the body drops, a
late steep push-off, a landing that rises in about 45 ms with an impact
shoulder and stays high until the ball is released); levels come from the
pitch's traits. Four free quantities are solved so that the impulses give the
momentum that the body must have: how long the push lasts (forward speed at
foot contact), how deep the body drops (downward speed there), how far the leg
unloads after release (no upward speed left), how long braking lasts (forward
speed kept).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scipy.interpolate import PPoly
from scipy.optimize import brentq

from simulators.body import GRAVITY
from simulators.curves import over, through

#: The landing's force begins this long before it reaches 10 % of body weight.
TOUCH_S = 0.006
CONTACT = 0.10
#: End of the explicit curves.
END_S = 0.42
_CREEP = 0.02
#: Share of its full height that the last rise of the push has on average.
_RISE = ((-1.0, 0.0), (-0.75, 0.07), (-0.5, 0.22), (-0.25, 0.60), (-0.1, 0.90), (0.0, 1.0))
_FALL = ((0.0, 1.0), (0.35, 0.85), (0.7, 0.38), (1.0, 0.0))


@dataclass(frozen=True, eq=False)
class Curves:
    """Reaction of each leg, (x, a, z), from ``start`` to :data:`END_S`; drive is 0 after its end.

    ``speed`` is the forward speed at ``start``, m/s; ``drive_end`` when the
    drive foot has left for good, ``drag`` whether it drags first.
    """

    start: float
    speed: float
    drive: tuple[PPoly, PPoly, PPoly]
    lead: tuple[PPoly, PPoly, PPoly]
    drive_end: float
    toe_off: float
    drag: bool


def delivery_curves(traits: dict[str, float], slide_step: bool) -> Curves:
    """Return the curves of a pitch with ``traits`` (see simulators.profile)."""
    creep = 0.08 if slide_step else _CREEP
    lift = -traits["lift_to_contact"] - 0.10
    toe_off = traits["toe_off_at"]
    drag = traits["drag"] > 0.02
    drive_end = toe_off + (0.19 if drag else 0.02)
    rise = _rise_time(traits, creep, lift)
    start = min(lift, -traits["drive_peak_before"] - rise - 0.02)
    drive_x = _drive_forward(traits, creep, start, rise, drive_end)
    drive_z = _drive_vertical(traits, start, drive_end)
    drive_a = _drive_side(traits, start, drive_end)
    speed = traits["speed_at_lift"]
    contact_speed = speed + GRAVITY * over(drive_x, start, 0.0)
    contact_fall = GRAVITY * (over(drive_z, start, 0.0) + start)
    pushed = GRAVITY * over(drive_x, 0.0, drive_end)
    held = GRAVITY * over(drive_z, 0.0, drive_end)
    lead_x = _landing_forward(traits, traits["speed_kept"] - contact_speed - pushed)
    lead_z = _landing_vertical(traits, -contact_fall - held)
    return Curves(
        start,
        speed,
        (drive_x, drive_a, drive_z),
        (lead_x, _landing_side(traits), lead_z),
        drive_end,
        toe_off,
        drag,
    )


def _push_fall(traits: dict[str, float]) -> tuple[tuple[float, float], ...]:
    """The end of the push: (time, share of the peak) from its peak until it is over."""
    peak, over_at = -traits["drive_peak_before"], traits["toe_off_at"] + 0.012
    return tuple((peak + s * (over_at - peak), level) for s, level in _FALL)


def _rise_time(traits: dict[str, float], creep: float, lift: float) -> float:
    """How long the forward force must rise to give the speed at foot contact, s."""
    top, peak = traits["drive_forward"], -traits["drive_peak_before"]
    # The little that is still gained between foot contact and the greatest speed.
    needed = (traits["speed_gained"] - 0.03) / GRAVITY
    fall = top * over(through(*_push_fall(traits)), peak, min(0.0, traits["toe_off_at"] + 0.012))
    area = over(through(*_RISE), -1.0, 0.0)
    rise = (needed - fall - creep * (peak - lift)) / ((top - creep) * area)
    return min(max(rise, 0.18), 1.1)


def _drive_forward(
    traits: dict[str, float], creep: float, start: float, rise: float, end: float
) -> PPoly:
    top, peak = traits["drive_forward"], -traits["drive_peak_before"]
    onset = peak - rise
    up = [(peak + s * rise, creep + (top - creep) * level) for s, level in _RISE]
    down = [(t, top * level) for t, level in _push_fall(traits)][1:-1]
    off = traits["toe_off_at"]
    points = [(start, creep), (0.5 * (start + onset), creep), *up, *down]
    if traits["drag"] > 0.02:
        # The toe drags behind: friction pulls back.
        pull = -0.45 * traits["drag"]
        points += [(off + 0.012, 0.0), (off + 0.04, pull), (off + 0.10, 0.6 * pull), (end, 0.0)]
    else:
        points += [(off + 0.012, 0.0), (end, 0.0)]
    return through(*points)


def _drive_vertical(traits: dict[str, float], start: float, end: float) -> PPoly:
    """The drive leg's vertical force: how deep it dips while the body drops is solved."""
    top, peak = traits["drive_vertical"], -traits["drive_peak_before"] - 0.012
    off, drag = traits["toe_off_at"], traits["drag"]
    down = [(peak + s * (off + 0.02 - peak), top * level) for s, level in _FALL[1:-1]]
    down.append((off, CONTACT))
    if drag > 0.02:
        down += [(off + 0.02, drag), (off + 0.11, 0.6 * drag), (end, 0.0)]
    else:
        down += [(end, 0.0)]
    rise_from = peak - min(0.22, 0.45 * (peak - start))

    since = max(start, rise_from - traits["dip_time"])
    low = since + 0.6 * (rise_from - since)
    still = [(start, 1.0)] if since > start + 0.02 else []
    since = since if still else start

    def curve(depth: float) -> PPoly:
        return through(
            *still,
            (since, 1.0),
            (since + 0.12 * (low - since), 1.0 - 0.05 * depth),
            (0.5 * (since + low), 1.0 - 0.75 * depth),
            (low, 1.0 - depth),
            (rise_from, 1.0 - 0.45 * depth),
            (0.5 * (rise_from + peak), 1.0 + 0.42 * (top - 1.0)),
            (peak + 0.17 * (rise_from - peak), 1.0 + 0.93 * (top - 1.0)),
            (peak, top),
            *down,
        )

    def surplus(depth: float) -> float:
        return over(curve(depth), start, 0.0) + start + traits["fall_speed"] / GRAVITY

    return curve(_solve(surplus, 0.03, 0.65))


def _drive_side(traits: dict[str, float], start: float, end: float) -> PPoly:
    side, off = traits["drive_side"], traits["toe_off_at"]
    return through(
        (start, 0.0),
        (0.5 * (start - 0.30), 0.15 * side),
        (-0.20, side),
        (-0.08, 0.2 * side),
        (min(-0.035, off - 0.02), -0.35 * side),
        (off + 0.012, 0.0),
        (end, 0.0),
    )


def _landing_rise(top: float, at: float, shoulder: float) -> list[tuple[float, float]]:
    """From touch to the first peak; the shoulder is the impact of the foot's own mass."""
    shape = (
        (0.16, 0.19),
        (0.28, 0.37 + 0.8 * shoulder),
        (0.42, 0.47 + 0.7 * shoulder),
        (0.62, 0.79),
        (0.85, 0.97),
        (1.0, 1.0),
    )
    return [(s * at, level * top) for s, level in shape]


def _landing_vertical(traits: dict[str, float], gain: float) -> PPoly:
    """The lead leg's vertical force; ``gain`` m/s is what it must add to leave no upward speed."""
    top, at = traits["landing_vertical"], traits["landing_peak_at"]

    def curve(level: float) -> PPoly:
        return through(
            (-TOUCH_S, 0.0),
            (0.0, CONTACT),
            *_landing_rise(top, at, traits["shoulder"]),
            (at + 0.4 * (0.12 - at), 0.945 * top),
            (0.12, 0.955 * top),
            (0.15, 0.89 * top),
            (0.20, 0.3 * level + 0.47 * top),
            (0.265, level),
            (0.34, level),
            (END_S, 0.75),
        )

    def surplus(level: float) -> float:
        return GRAVITY * (over(curve(level), -TOUCH_S, END_S) - END_S) - gain

    return curve(_solve(surplus, 0.15, 1.25))


def _landing_forward(traits: dict[str, float], change: float) -> PPoly:
    """The lead leg's braking; ``change`` m/s (negative) is what it must do to the speed."""
    top, at = traits["landing_braking"], traits["landing_peak_at"] + 0.006

    def curve(stretch: float) -> PPoly:
        tail = [(0.15, 0.86), (0.20, 0.50), (0.26, 0.15), (0.31, 0.0)]
        after = [(0.12 + (t - 0.12) * stretch, -level * top) for t, level in tail]
        return through(
            (-TOUCH_S, 0.0),
            (0.0, -0.02 * top),
            (0.16 * at, -0.14 * top),
            (0.30 * at, -0.33 * top),
            (0.62 * at, -0.76 * top),
            (0.86 * at, -0.97 * top),
            (at, -top),
            (at + 0.4 * (0.12 - at), -0.95 * top),
            (0.12, -0.96 * top),
            *after,
            (END_S, 0.03),
        )

    def surplus(stretch: float) -> float:
        return GRAVITY * over(curve(stretch), -TOUCH_S, END_S) - change

    return curve(_solve(surplus, 0.35, 1.45))


def _landing_side(traits: dict[str, float]) -> PPoly:
    side, at = traits["landing_side"], traits["landing_peak_at"]
    return through(
        (-TOUCH_S, 0.0),
        (0.0, 0.01 * side),
        (0.35 * at, 0.25 * side),
        (1.2 * at, -0.45 * side),
        (0.115, -side),
        (0.18, -0.55 * side),
        (0.30, 0.0),
        (END_S, 0.0),
    )


def _solve(surplus: Callable[[float], float], low: float, high: float) -> float:
    """Root of a monotone function, or the end that comes nearest where it has none."""
    at_low, at_high = surplus(low), surplus(high)
    if at_low * at_high > 0:
        return low if abs(at_low) < abs(at_high) else high
    return float(brentq(surplus, low, high, xtol=1e-9))
