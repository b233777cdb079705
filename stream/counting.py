"""Whether a movement out of the set position was a pitch, and if not what it was.

Every limit is far outside what published pitchers do (see docs/definitions.md)
and far from what people do on a mound between pitches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stream.curves import value_at
from stream.feet import FeetModel
from stream.layout import Array
from stream.metrics.motion import forward_speed_mps
from stream.movement import STANDARD_GRAVITY, Foot, Movement, X, Y, Z
from stream.outputs import NotCountedReason
from stream.settings import Settings
from stream.wire import Samples

#: Braking and push-off that any pitch reaches, share of body weight (published least: 69, 58 %).
LEAST_BRAKING_BW = 0.35
LEAST_PUSH_BW = 0.30
#: Where the drive foot may stand at its push-off peak, m before the front of the rubber.
RUBBER_REACH_M = (-0.35, 0.45)
#: A stride is aimed home when it goes less than this far across, per metre forward.
MOST_ACROSS = 0.6
#: Load left on the drive foot's side when braking is over: more is somebody else, share of W.
LEFT_BEHIND_BW = 0.30
#: Mean vertical force over a delivery: more than this share of W is more than one person.
MOST_MEAN_LOAD_BW = 1.35
#: Where a pitcher's centre of pressure is in the set position (m, from the rubber): on it, or
#: between it and a lead foot a step before it.
SET_X_M = (-0.12, 0.60)
SET_Y_M = 0.40
#: Somebody who stands still bears down by at least this share of his weight.
BEARING_BW = 0.5
#: Where somebody stands is told from every so many frames.
STANDING_STEP = 10
#: A movement smaller than these is nobody's delivery.
DELIVERY_LIKE_SPEED_MPS = 0.45
DELIVERY_LIKE_LOAD_BW = 0.20
#: Body speed of a turn to a base, m/s: sideways, or backwards for second base.
TURN_SPEED_MPS = 0.8
#: More load than this share of the set position's is somebody else's.
ONE_PERSON_BW = 1.35
#: Lost frames of this length, s, can hide a delivery from the first move to the landing.
HIDES_S = 0.5
#: Behind this place (m) the pitcher has stepped off the rubber.
STEPPED_OFF_X_M = -0.10


@dataclass(frozen=True, slots=True)
class Verdict:
    """Why a movement was not counted, in words."""

    reason: NotCountedReason
    why: str


def judge_landing(m: Movement, landing: int, settings: Settings) -> Verdict | None:
    """Return None for a pitch, else why a movement with a landing is none.

    ``landing`` is the sample at which the lead foot was seen to bear weight.
    """
    verdict = _judge_delivery(m, landing, settings)
    lost = _lost_s(m.missing, m.quiet, m.rate_hz)
    return verdict if verdict is None or not lost else _left_open(lost)


def _judge_delivery(m: Movement, landing: int, settings: Settings) -> Verdict | None:
    near = m.events["foot_contact"] or m.events["foot_plant"]
    if near is None and m.has_gaps:
        near = float(landing)
    push, brake_end = m.events["drive_peak"], m.events["brake_end"]
    if near is None or push is None or brake_end is None:
        return _short_of("the lead leg never took the body's weight")
    if _somebody_else(m, int(near), int(brake_end)):
        return Verdict(
            NotCountedReason.SECOND_PERSON,
            "the deck carried more than one person, so the feet cannot be told apart",
        )
    return (
        _judge_stride(m, settings)
        or _judge_force(m, int(near), int(brake_end), settings)
        or _judge_push(m, push, settings)
    )


def _judge_force(m: Movement, near: int, brake_end: int, settings: Settings) -> Verdict | None:
    landed = slice(near, brake_end + 1)
    vertical = float(m.lead.force[landed, Z].max()) / m.weight_n
    braking = -float(m.lead.force[landed, X].min()) / m.weight_n
    if vertical < settings.pitch_landing_bw or braking < LEAST_BRAKING_BW:
        return _short_of(
            f"the landing reached {100 * vertical:.0f} % of body weight upward and "
            f"{100 * braking:.0f} % braking"
        )
    return None


def _judge_push(m: Movement, push: float, settings: Settings) -> Verdict | None:
    forward = value_at(m.drive.force[:, X], push) / m.weight_n
    place = value_at(m.drive.cop[:, X], push)
    if not RUBBER_REACH_M[0] <= place <= RUBBER_REACH_M[1]:
        return _short_of(f"the push-off came from {place:.2f} m before the rubber")
    if forward < LEAST_PUSH_BW:
        return _short_of(f"the push-off reached {100 * forward:.0f} % of body weight forward")
    if m.events["first_move"] is None or m.events["foot_contact"] is None:
        return None
    speed = forward_speed_mps(m)
    if speed < settings.pitch_forward_speed_mps:
        return _short_of(f"the body moved forward at {speed:.1f} m/s when the foot landed")
    return None


def judge_movement(
    deck: Foot,
    missing: npt.NDArray[np.bool_],
    quiet: tuple[int, int],
    weight_n: float,
    rate_hz: float,
) -> Verdict | None:
    """Return what a movement without a landing was; None if it was not delivery-like.

    Delivery-like is what begins in a set position (:func:`stands_ready`) and moves the body.
    Where frames are ``missing`` (n,) straight lines stand in ``deck``: nothing is said of those.
    """
    verdict = _judge_no_landing(deck, quiet, weight_n, rate_hz)
    lost = _lost_s(missing, quiet, rate_hz)
    if not lost:
        return verdict
    went = lost >= HIDES_S and not on_the_rubber(deck.cop[-round(HIDES_S * rate_hz) :])
    return _left_open(lost) if verdict is not None or went else None


def _judge_no_landing(
    deck: Foot, quiet: tuple[int, int], weight_n: float, rate_hz: float
) -> Verdict | None:
    force = deck.force[quiet[1] :]
    if len(force) < 2:
        return None
    velocity = np.cumsum(force[:, :2], axis=0) * (STANDARD_GRAVITY / weight_n / rate_hz)
    turned = max(float(np.abs(velocity[:, 1]).max()), -float(velocity[:, 0].min()))
    level = _smoothed(force[:, Z], max(1, round(0.05 * rate_hz))) / weight_n
    fastest, bounced = float(np.abs(velocity).max()), float(level.max() - level.min())
    if fastest < DELIVERY_LIKE_SPEED_MPS and bounced < DELIVERY_LIKE_LOAD_BW:
        return None
    if float(level[-1]) > ONE_PERSON_BW:
        return Verdict(NotCountedReason.SECOND_PERSON, "somebody else stepped on the deck")
    if turned > TURN_SPEED_MPS and turned > float(velocity[:, 0].max()):
        return Verdict(
            NotCountedReason.THROW_OVER,
            f"the body turned at {turned:.1f} m/s away from home and did not land towards it",
        )
    last = deck.cop[np.isfinite(deck.cop[:, 0])][-1:]
    if (len(last) and last[0, 0] < STEPPED_OFF_X_M) or level[-1] < 0.5:
        return Verdict(NotCountedReason.STEP_OFF, "the pitcher stepped off without a delivery")
    return Verdict(
        NotCountedReason.NO_LANDING,
        "the lead foot was lifted or moved, and no landing with forward speed followed",
    )


def stands_ready(feet: FeetModel, quiet: Samples, tare: Array, load_n: float) -> bool:
    """Whether quiet standing (n, channels), raw, is in a set position; told without a filter.

    ``tare`` (channels,) is the zero in force, ``load_n`` the mean vertical force, N.
    """
    loads = feet.deck_loads(quiet[::STANDING_STEP], tare)
    return on_the_rubber(feet.as_one_foot(loads, BEARING_BW * load_n).cop)


def on_the_rubber(places: Array) -> bool:
    """Whether quiet standing with these centres of pressure (n, 2), m, is a set position."""
    known = places[np.isfinite(places[:, 0])]
    if len(known) == 0:
        return False
    x, y = np.median(known, axis=0).tolist()
    return bool(SET_X_M[0] <= x <= SET_X_M[1] and abs(y) <= SET_Y_M)


def _lost_s(missing: npt.NDArray[np.bool_], quiet: tuple[int, int], rate_hz: float) -> float:
    """How much of the movement after quiet standing never came, s."""
    return float(missing[quiet[1] :].sum()) / rate_hz


def _left_open(lost_s: float) -> Verdict:
    return Verdict(
        NotCountedReason.FEED_GAP,
        f"{lost_s:.2f} s of the movement never arrived, which leaves open what it was",
    )


def _short_of(what: str) -> Verdict:
    return Verdict(NotCountedReason.OTHER, f"{what}, which no pitch does")


def _judge_stride(m: Movement, settings: Settings) -> Verdict | None:
    landing = _across(m)
    if landing is None:
        return None
    forward, across = landing
    if abs(across) > MOST_ACROSS * max(forward, 0.0):
        return Verdict(
            NotCountedReason.THROW_OVER,
            f"the stride went {abs(across):.2f} m sideways and {forward:.2f} m towards home",
        )
    if forward < settings.pitch_stride_m:
        return _short_of(f"the stride was {forward:.2f} m")
    return None


def _across(m: Movement) -> tuple[float, float] | None:
    """Where the lead foot landed, from the drive foot: (towards home, to the left), m."""
    plant, push = m.events["foot_plant"], m.events["drive_peak"]
    if plant is None or push is None:
        return None
    lead_x, lead_y = value_at(m.lead.cop[:, X], plant), value_at(m.lead.cop[:, Y], plant)
    drive_y = value_at(m.drive.cop[:, Y], push)
    if not np.isfinite([lead_x, lead_y, drive_y]).all():
        return None
    return lead_x, lead_y - drive_y


def _somebody_else(m: Movement, near: int, brake_end: int) -> bool:
    left_behind = m.drive.force[max(near, brake_end - round(0.05 * m.rate_hz)) : brake_end + 1, Z]
    mean_load = m.deck[m.quiet[1] : brake_end + 1, Z].mean()
    return bool(
        left_behind.min() > LEFT_BEHIND_BW * m.weight_n
        or mean_load > MOST_MEAN_LOAD_BW * m.weight_n
    )


def _smoothed(values: Array, length: int) -> Array:
    return np.convolve(values, np.full(length, 1.0 / length), mode="valid")
