"""Is this pitch like the pitcher's others? A robust baseline of his own session.

A pitch is compared with the pitches of the same pitcher that came before it in
the session (voided ones left out). The baseline's centre is their median. Its
spread is 1.4826 times their median absolute deviation (the factor makes it the
standard deviation of normal values) once there are ``OWN_SPREAD_FROM`` of
them; before that it is the typical error published for pitches within one
session. Below ``COMPARE_FROM`` earlier pitches nothing is said. Against earlier
sessions (:func:`baseline_across`) no published spread can stand in: between
days it is larger and nobody has published how much.

Limits: a distance of 3.5 spreads is `apart`, the limit NIST/SEMATECH e-Handbook
of Statistical Methods 1.3.5.17 gives for a modified z-score (after Iglewicz and
Hoaglin 1993); from 2.63 spreads on it is `edge`: of the pitches that are as
usual about one in twenty then has a metric there, since six are compared
(Sidak 1967, J Am Stat Assoc 62:626-633: each at 1 - 0.95^(1/6)). The
comparison describes; it is no judgement on health, effort or quality.

The push-off time is not compared: its beginning is the last of the times at
which the forward force passes a threshold, and where it lingers there the time
jumps between pitches that are alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from stream.outputs import PitchRecord

#: Earlier pitches needed before anything is compared (common practice, no source).
COMPARE_FROM = 5
#: Earlier pitches needed before the spread is the pitcher's own: below it the
#: standard error of a spread from a median absolute deviation exceeds 30 %.
OWN_SPREAD_FROM = 15
EDGE = 2.63
APART = 3.5
MAD_TO_SD = 1.4826
#: Earlier sessions needed before their spread says what is usual between days
#: (common practice, no source).
OWN_SPREAD_SESSIONS = 3
#: The pitcher's own spread is not believed below this share of the published one.
LEAST_SHARE_OF_PUBLISHED = 0.5

SPEED = "speed_mps"
#: What is compared, in the order in which a coach asks.
WATCHED: tuple[str, ...] = (
    "drive_peak_bw",
    "landing_peak_bw",
    SPEED,
    "drive_forward_bw",
    "landing_braking_bw",
    "stride_m",
)
#: Typical error (SD of one pitch about the pitcher's mean) within one session, same
#: units as the metric: one-way random analysis of 403 fastballs of 100 pitchers,
#: Wasserberger, Brady, Besky, Jones and Boddy 2022 (open data set). Between days
#: it is larger.
PUBLISHED_TYPICAL_ERROR: Mapping[str, float] = MappingProxyType(
    {
        "drive_peak_bw": 7.36,
        "landing_peak_bw": 14.7,
        SPEED: 0.275,
        "drive_forward_bw": 4.88,
        "landing_braking_bw": 8.23,
    }
)


class Standing(StrEnum):
    """How one value, or a whole pitch, stands to the pitcher's others."""

    NOT_MEASURED = "not_measured"
    TOO_FEW = "too_few"
    USUAL = "usual"
    EDGE = "edge"
    APART = "apart"


@dataclass(frozen=True, slots=True)
class Baseline:
    """Centre and spread of ``count`` earlier values; ``own`` says whose spread it is.

    ``spread`` is None where neither enough of the pitcher's own pitches nor a
    published value is there.
    """

    count: int
    centre: float
    spread: float | None
    own: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """One metric of one pitch against the baseline; units of the metric.

    ``difference`` is value minus centre; ``distance`` the same in spreads of
    such a difference.
    """

    key: str
    value: float | None
    baseline: Baseline | None
    difference: float | None
    distance: float | None
    standing: Standing


def baseline(key: str, values: Iterable[float | None]) -> Baseline | None:
    """Return the baseline of the earlier ``values`` of metric ``key``; None below COMPARE_FROM."""
    known = np.array([v for v in values if v is not None], dtype=float)
    if known.size < COMPARE_FROM:
        return None
    centre = float(np.median(known))
    published = PUBLISHED_TYPICAL_ERROR.get(key)
    if known.size < OWN_SPREAD_FROM:
        return Baseline(known.size, centre, published, own=False)
    own = MAD_TO_SD * float(np.median(np.abs(known - centre)))
    least = LEAST_SHARE_OF_PUBLISHED * (published or 0.0)
    return Baseline(known.size, centre, max(own, least) or None, own=True)


def baseline_across(key: str, sessions: Iterable[Sequence[float | None]]) -> Baseline | None:
    """Return the baseline of metric ``key`` from earlier ``sessions`` of one pitcher.

    Centre: the median of the sessions' medians, so that a long session counts
    as one; sessions of fewer than COMPARE_FROM values are left out. Spread:
    that of all their pitches about this centre, days' differences included,
    never below the published one within a session; None below
    ``OWN_SPREAD_SESSIONS`` sessions or ``OWN_SPREAD_FROM`` pitches.
    """
    known = [np.array([v for v in values if v is not None], dtype=float) for values in sessions]
    known = [values for values in known if values.size >= COMPARE_FROM]
    if not known:
        return None
    centre = float(np.median([np.median(values) for values in known]))
    together = np.concatenate(known)
    if len(known) < OWN_SPREAD_SESSIONS or together.size < OWN_SPREAD_FROM:
        return Baseline(together.size, centre, None, own=False)
    spread = MAD_TO_SD * float(np.median(np.abs(together - centre)))
    least = PUBLISHED_TYPICAL_ERROR.get(key, 0.0)
    return Baseline(together.size, centre, max(spread, least) or None, own=True)


def compare(key: str, value: float | None, earlier: Iterable[float | None]) -> Comparison:
    """Compare one ``value`` of metric ``key`` with the ``earlier`` ones."""
    return stand(key, value, None if value is None else baseline(key, earlier))


def stand(key: str, value: float | None, base: Baseline | None) -> Comparison:
    """Tell how one ``value`` of metric ``key`` stands to a baseline."""
    if value is None:
        return Comparison(key, None, None, None, None, Standing.NOT_MEASURED)
    if base is None:
        return Comparison(key, value, None, None, None, Standing.TOO_FEW)
    difference = value - base.centre
    if base.spread is None:
        return Comparison(key, value, base, difference, None, Standing.TOO_FEW)
    # A difference from the median of n normal values has variance s^2 (1 + pi / 2 n).
    distance = difference / (base.spread * math.sqrt(1.0 + math.pi / (2.0 * base.count)))
    if abs(distance) >= APART:
        standing = Standing.APART
    else:
        standing = Standing.EDGE if abs(distance) >= EDGE else Standing.USUAL
    return Comparison(key, value, base, difference, distance, standing)


def value_of(record: PitchRecord, key: str) -> float | None:
    """Return metric ``key`` of a pitch; ball speed is one of them."""
    return record.speed_mps if key == SPEED else record.metrics.get(key)


def compare_pitch(record: PitchRecord, earlier: Sequence[PitchRecord]) -> tuple[Comparison, ...]:
    """Compare every watched metric of ``record`` with the same pitcher's ``earlier`` pitches."""
    return tuple(
        compare(key, value_of(record, key), (value_of(e, key) for e in earlier)) for key in WATCHED
    )


def overall(comparisons: Iterable[Comparison]) -> Standing:
    """Return how the pitch as a whole stands: its most unusual metric decides."""
    standings = {c.standing for c in comparisons}
    for standing in (Standing.APART, Standing.EDGE, Standing.USUAL, Standing.TOO_FEW):
        if standing in standings:
            return standing
    return Standing.NOT_MEASURED
