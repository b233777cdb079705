"""From the window of a movement to a pitch record: as reported, not as it happened.

Nothing here depends on how the stream was cut, how fast it came, or what came
before the set position except the zero then in force: equal windows give
bit-identical records.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stream.counting import Verdict, judge_landing, judge_movement, stands_ready
from stream.events import EVENTS, EventInput, find_events, still_second
from stream.feet import FeetModel, SplitInput
from stream.filters import low_pass
from stream.findings import MovementEnded
from stream.forces import FZ
from stream.layout import Array
from stream.metrics import METRICS, Metric, Need
from stream.movement import STANDARD_GRAVITY, Movement
from stream.outputs import Traces
from stream.roster import Pitcher
from stream.settings import Settings

#: The filter carries what stands in for a missing frame this far, s.
FILTER_REACH_S = 0.020
#: Quiet standing is left out of the weight this long before its end: a movement may begin in it.
WEIGHT_MARGIN_S = 0.25
FEED_GAP = "feed_gap"

#: The stretch whose gap makes an event's place unsure, by events; others need only themselves.
_SEARCHED = {
    "drive_onset": ("drive_onset", "drive_peak"),
    "drive_peak": ("drive_onset", "drive_toe_off"),
    "foot_plant": ("foot_contact", "foot_plant"),
    "landing_peak": ("foot_contact", "brake_end"),
    "drive_toe_off": ("drive_peak", "drive_toe_off"),
    "brake_end": ("foot_contact", "brake_end"),
}
_AFTER_LANDING = frozenset(
    {"foot_contact", "foot_plant", "landing_peak", "drive_toe_off", "brake_end"}
)


@dataclass(frozen=True, eq=False)
class Measured:
    """A measured pitch; positions and times are of the device's frames."""

    foot_contact_frame: float | None
    events_s: Mapping[str, float | None]
    weight_n: float
    metrics: Mapping[str, float | None]
    estimated: tuple[str, ...]
    flags: tuple[str, ...]
    traces: Traces


def measure(
    samples: npt.NDArray[np.float32],
    ended: MovementEnded,
    pitcher: Pitcher,
    feet: FeetModel,
    settings: Settings,
    rate_hz: float,
) -> Measured | Verdict | None:
    """Measure the movement in ``samples`` (n, channels), the raw frames of its window.

    Returns the pitch, or why it is none, or None for a movement that was not
    like a delivery at all.
    """
    quiet = ended.quiet
    tare = ended.zero.tare
    if ended.landing is None and not stands_ready(
        feet, samples[slice(*quiet)], tare, ended.stance.load
    ):
        return None
    missing = np.isnan(samples[:, 0])
    whole = _bridged(samples, missing) if missing.any() else samples
    landing = None if ended.landing is None else ended.landing - ended.start
    loads = (
        feet.deck_loads(whole, tare)
        if landing is None
        else feet.loads(whole, tare, landing, rate_hz)
    )
    vertical = loads[:, FZ] if landing is None else feet.both_feet(loads)[:, FZ]
    set_weight = _weight(vertical, missing, quiet, rate_hz)
    weight = set_weight if pitcher.weigh_in_kg is None else pitcher.weigh_in_kg * STANDARD_GRAVITY
    least = settings.pressure_bw * weight
    smooth = low_pass(loads, settings.filter_hz, rate_hz)
    if landing is None:
        return judge_movement(feet.as_one_foot(smooth, least), missing, quiet, weight, rate_hz)
    deck = feet.as_one_foot(feet.both_feet(smooth), least)
    drive, lead, raw_lead = feet.tell_apart(SplitInput(loads, smooth, landing, rate_hz, least))
    given = EventInput(
        rate_hz=rate_hz,
        drive=drive,
        lead=lead,
        deck=deck.force,
        deck_cop=deck.cop,
        raw_lead=raw_lead,
        missing=missing,
        quiet=quiet,
        landing=landing,
        weight_n=weight,
    )
    still = still_second(given)
    movement = Movement(
        rate_hz=rate_hz,
        drive=drive,
        lead=lead,
        deck=deck.force,
        missing=missing,
        quiet=quiet,
        still_until=still[1],
        weight_n=weight,
        throws=pitcher.throws,
        height_m=pitcher.height_m,
        events=find_events(given, still, settings),
    )
    verdict = judge_landing(movement, landing, settings)
    if verdict is not None:
        return verdict
    return _told(movement, ended, feet, set_weight, settings, landing)


def _told(
    m: Movement,
    ended: MovementEnded,
    feet: FeetModel,
    set_weight: float,
    settings: Settings,
    landing: int,
) -> Measured:
    contact = m.events["foot_contact"]
    sure = {e.key: _sure(m, e.key) for e in EVENTS}
    flags: set[str] = set()
    metrics: dict[str, float | None] = {}
    for entry in METRICS:
        value, why = _evaluate(entry, m, sure)
        metrics[entry.key] = value
        flags |= why
    if abs(set_weight - m.weight_n) > settings.weight_mismatch * m.weight_n:
        flags.add("weight_mismatch")
    anchor = float(landing) if contact is None else contact
    return Measured(
        foot_contact_frame=None if contact is None else ended.start + contact,
        events_s={
            key: None if contact is None or at is None else (at - contact) / m.rate_hz
            for key, at in sure.items()
        },
        weight_n=m.weight_n,
        metrics=metrics,
        estimated=tuple(e.key for e in METRICS if _is_estimate(e, feet)),
        flags=tuple(sorted(flags)),
        traces=_traces(m, ended.start, anchor),
    )


def _evaluate(
    entry: Metric, m: Movement, sure: Mapping[str, float | None]
) -> tuple[float | None, set[str]]:
    """Return a metric's value, or None and the reasons why it has none."""
    why = set()
    if Need.HANDEDNESS in entry.needs and m.throws is None:
        why.add(Need.HANDEDNESS.value)
    if Need.HEIGHT in entry.needs and m.height_m is None:
        why.add(Need.HEIGHT.value)
    for event in entry.events:
        if m.events[event] is None:
            why.add(FEED_GAP if m.has_gaps else f"no_{event}")
        elif sure[event] is None:
            why.add(FEED_GAP)
    if not why and m.has_gaps:
        # What is integrated over a movement begins at rest, maybe well before the first move.
        first, last = entry.span
        start = float(m.still_until) if first == "first_move" else m.at(first)
        if _touched(m, start, m.at(last)):
            why.add(FEED_GAP)
    if why:
        return None, why
    value = entry.formula(m)
    if value is None or not math.isfinite(value):
        return None, {entry.lack.value}
    return value, why


def _sure(m: Movement, event: str) -> float | None:
    """Return an event's position unless a gap makes it unsure."""
    at = m.events[event]
    if at is None or not m.has_gaps:
        return at
    first, last = (m.events[e] for e in _SEARCHED.get(event, (event, event)))
    if event == "first_move":
        first = float(m.quiet[1])
    if first is None or last is None:
        return None
    return None if _touched(m, min(first, at), max(last, at)) else at


def _touched(m: Movement, start: float, end: float) -> bool:
    """Whether a missing frame, or what the filter made of it, lies inside [start, end]."""
    reach = FILTER_REACH_S * m.rate_hz
    first = max(0, math.floor(min(start, end) - reach))
    return bool(m.missing[first : math.ceil(max(start, end) + reach) + 1].any())


def _is_estimate(entry: Metric, feet: FeetModel) -> bool:
    if entry.placed and not feet.layout.measures_moments:
        return True
    return feet.estimates and not entry.whole_deck and not _AFTER_LANDING.isdisjoint(entry.span)


def _weight(
    vertical: Array, missing: npt.NDArray[np.bool_], quiet: tuple[int, int], rate_hz: float
) -> float:
    """Body weight: median vertical force of at least 1 s of quiet standing, N."""
    start, end = quiet
    end = max(start + round(rate_hz), end - round(WEIGHT_MARGIN_S * rate_hz))
    return float(np.median(vertical[start:end][~missing[start:end]]))


def _bridged(samples: npt.NDArray[np.float32], missing: npt.NDArray[np.bool_]) -> Array:
    """Put straight lines where frames are missing, so that the filter can pass over."""
    lost, known = np.flatnonzero(missing), np.flatnonzero(~missing)
    bridged = samples.astype(np.float64)
    for channel in bridged.T:
        channel[lost] = np.interp(lost, known, channel[known])
    return bridged


def _traces(m: Movement, first_frame: int, anchor: float) -> Traces:
    time: Array = (np.arange(len(m.deck), dtype=np.float64) - anchor) / m.rate_hz

    def shown(values: Array) -> Array:
        kept = np.where(m.missing[:, None], np.nan, values) if m.has_gaps else values
        kept.flags.writeable = False
        return kept

    time.flags.writeable = False
    return Traces(
        first_frame=first_frame,
        rate_hz=m.rate_hz,
        time_s=time,
        drive=shown(m.drive.force),
        lead=shown(m.lead.force),
        drive_cop=shown(m.drive.cop),
        lead_cop=shown(m.lead.cop),
    )
