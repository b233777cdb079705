"""The events of a delivery, found in its window.

Positions are fractional samples of the window; None where an event was not
found. All but foot contact are read from the low-passed forces.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from stream.curves import falling_crossings, peak_position, rising_crossings
from stream.layout import Array
from stream.movement import Foot, X, Z
from stream.settings import Settings

#: Least quiet band: so that a noiseless feed's stillness is not left by a breath.
LEAST_BAND_BW = 0.005
LEAST_BAND_M = 0.002
#: The stillness that the quiet band is taken from is sought in steps of this length, s: it is
#: this many steps long and lies this far from the end of quiet, s.
STILL_STEP_S = 0.05
STILL_STEPS = 20
STILL_MARGIN_S = 0.1
#: A foot that bears less than this share of body weight is off the deck.
LIFTED_BW = 0.05
#: How long after the contact the foot may take to bear full body weight, s.
PLANT_WITHIN_S = 0.3


@dataclass(frozen=True)
class EventDefinition:
    """An event's key, words and definition."""

    key: str
    label: str
    definition: str


EVENTS: tuple[EventDefinition, ...] = (
    EventDefinition(
        "first_move",
        "First move",
        "End of quiet standing: whole-deck vertical force or centre of pressure leaves its quiet "
        "band (5 SD, held 50 ms).",
    ),
    EventDefinition(
        "drive_onset",
        "Push-off begins",
        "Start of the last continuous rise of drive-leg forward force before foot contact: the "
        "last upward crossing of 5 % body weight before its greatest value, or the moment in which "
        "the lead foot leaves the deck (5 % of body weight) if that is later: until then the feet "
        "may push against each other, which moves nobody.",
    ),
    EventDefinition(
        "drive_peak",
        "Push-off peak",
        "Greatest drive-leg resultant between push-off begin and toe-off.",
    ),
    EventDefinition(
        "foot_contact",
        "Foot contact",
        "Lead-leg vertical force crosses 10 % body weight upward after flight, interpolated on "
        "the unfiltered signal.",
    ),
    EventDefinition(
        "foot_plant", "Foot plant", "Lead-leg vertical force first reaches 100 % body weight."
    ),
    EventDefinition(
        "landing_peak",
        "Landing peak",
        "Greatest lead-leg resultant from foot contact to brake end.",
    ),
    EventDefinition(
        "drive_toe_off",
        "Drive toe-off",
        "Drive-leg vertical force falls below 10 % body weight.",
    ),
    EventDefinition(
        "brake_end",
        "Brake end",
        "Lead-leg forward force returns from braking to zero, or 0.5 s after foot contact, "
        "whichever is first.",
    ),
)


@dataclass(frozen=True, eq=False)
class EventInput:
    """What the events are read from, n samples.

    ``quiet`` is the [first, last) sample of quiet standing; ``landing`` the
    sample near which the online detector saw the lead foot land.
    """

    rate_hz: float
    drive: Foot
    lead: Foot
    deck: Array
    deck_cop: Array
    raw_lead: Array
    missing: npt.NDArray[np.bool_]
    quiet: tuple[int, int]
    landing: int
    weight_n: float


def still_second(given: EventInput) -> tuple[int, int]:
    """Return [first, last) of the last quiet second in which the pressure stays put too.

    Quiet standing is told from the vertical force alone; a slow shift of
    weight from foot to foot can begin inside it.
    """
    signals, least = _still_signals(given)
    start, end = given.quiet
    step = max(1, round(STILL_STEP_S * given.rate_hz))
    length = STILL_STEPS * step
    last = end - round(STILL_MARGIN_S * given.rate_hz)
    steps = max(0, (last - start - 1) // step)
    quiet = signals[:, last - steps * step : last].reshape(len(signals), steps, step)
    means = quiet.mean(axis=2) / least  # of each step, so that noise is no movement
    if steps >= STILL_STEPS:
        second = sliding_window_view(means, STILL_STEPS, axis=1)
        # What is not known has not stayed put.
        put = np.flatnonzero((second.max(axis=2) - second.min(axis=2) <= 4.0).all(axis=0))
        if len(put):
            last -= (steps - STILL_STEPS - int(put[-1])) * step
            return last - length, last
    return start, max(start + 2, min(start + length, end))


def find_events(
    given: EventInput, still: tuple[int, int], settings: Settings
) -> Mapping[str, float | None]:
    """Return the position of each of :data:`EVENTS`; ``still`` is :func:`still_second`."""
    W, rate = given.weight_n, given.rate_hz
    contact = _foot_contact(given, settings)
    near = float(given.landing) if contact is None else contact
    push = _greatest_push(given, near)
    toe_off = _first_after(
        falling_crossings(given.drive.force[:, Z], settings.toe_off_bw * W), push
    )
    onset = _onset(given, push, settings)
    brake_end = _brake_end(given, near, settings)
    last = float(len(given.deck) - 1)
    return {
        "first_move": _first_move(given, still, near, settings),
        "drive_onset": onset,
        "drive_peak": None
        if onset is None
        else peak_position(given.drive.resultant, onset, last if toe_off is None else toe_off),
        "foot_contact": contact,
        "foot_plant": _plant(given.lead.force[:, Z], near, settings.plant_bw * W, rate),
        "landing_peak": None
        if brake_end is None
        else peak_position(given.lead.resultant, near, brake_end),
        "drive_toe_off": toe_off,
        "brake_end": brake_end,
    }


def _first_move(
    given: EventInput, still: tuple[int, int], latest: float, settings: Settings
) -> float | None:
    """First sample from which a signal stays out of its quiet band for the hold time."""
    signals, least = _still_signals(given)
    start, end = still
    level = signals[:, start:end]
    band = np.maximum(settings.quiet_band_sd * level.std(axis=1, keepdims=True), least)
    later = signals[:, end : math.ceil(latest)]
    inside = np.abs(later - level.mean(axis=1, keepdims=True)) <= band
    hold = max(1, round(settings.move_hold_s * given.rate_hz))
    runs = np.convolve(~inside.all(axis=0), np.ones(hold, dtype=int))[hold - 1 :]
    held = np.flatnonzero(runs == hold)
    return float(end + held[0]) if len(held) else None


def _still_signals(given: EventInput) -> tuple[Array, Array]:
    """Return what stands still, (3, n): force up, place of the pressure; and the least bands."""
    least = np.array([LEAST_BAND_BW * given.weight_n, LEAST_BAND_M, LEAST_BAND_M])
    return np.vstack([given.deck[:, Z], given.deck_cop.T]), least[:, None]


def _foot_contact(given: EventInput, settings: Settings) -> float | None:
    """Last unfiltered crossing of the threshold before the lead foot bears half the body.

    None where the frames around it never came.
    """
    W, rate = given.weight_n, given.rate_hz
    begin = max(0, given.landing - round(0.05 * rate))
    raw = given.raw_lead[begin : given.landing + round(PLANT_WITHIN_S * rate)]
    loaded = np.flatnonzero(raw >= 0.5 * W)
    crossings = rising_crossings(raw, settings.contact_bw * W)
    if len(loaded):
        crossings = crossings[crossings <= loaded[0]]
    if len(crossings) == 0:
        return None
    at = begin + float(crossings[-1])
    if given.missing[math.floor(at) : math.ceil(at) + 1].any():
        return None
    return at


def _greatest_push(given: EventInput, near: float) -> float:
    start, end = given.quiet[1], max(given.quiet[1] + 1, math.ceil(near))
    return float(start + int(np.argmax(given.drive.force[start:end, X])))


def lead_foot_left(lead_z: Array, weight_n: float, before: float) -> float | None:
    """Return where the lead foot (vertical force (n,) N) left the deck last up to ``before``."""
    return _last_before(falling_crossings(lead_z, LIFTED_BW * weight_n), before)


def _onset(given: EventInput, push: float, settings: Settings) -> float | None:
    """Where the push up to ``push`` begins; None if it neither rises nor the lead foot leaves."""
    rising = rising_crossings(given.drive.force[:, X], settings.onset_bw * given.weight_n)
    begins = (
        _last_before(rising, push),
        lead_foot_left(given.lead.force[:, Z], given.weight_n, push),
    )
    return max((at for at in begins if at is not None), default=None)


def _plant(vertical: Array, near: float, level: float, rate_hz: float) -> float | None:
    first = max(0, math.floor(near) - 2)
    stretch = vertical[first : first + round(PLANT_WITHIN_S * rate_hz)]
    return _first_after(first + rising_crossings(stretch, level), near)


def _brake_end(given: EventInput, near: float, settings: Settings) -> float | None:
    limit = near + settings.brake_limit_s * given.rate_hz
    start, stop = math.ceil(near), min(len(given.deck), math.floor(limit) + 1)
    if stop - start < 2:
        return None
    forward = given.lead.force[:, X]
    hardest = start + int(np.argmin(forward[start:stop]))
    back = _first_after(hardest + rising_crossings(forward[hardest:stop], 0.0), float(hardest))
    if back is not None:
        return back
    return limit if limit <= len(given.deck) - 1 else None


def _first_after(positions: Array, start: float) -> float | None:
    later = positions[positions >= start]
    return float(later[0]) if len(later) else None


def _last_before(positions: Array, end: float) -> float | None:
    earlier = positions[positions <= end]
    return float(earlier[-1]) if len(earlier) else None
