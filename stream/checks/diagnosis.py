"""From a known load to the culprit: which one fault explains every reading at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from stream.checks.channels import useless
from stream.checks.evidence import Evidence, cell_name
from stream.checks.response import SIGMAS, Seen, bearing, in_newtons, look, response, under
from stream.checks.suspects import Kind, Suspect, suspects
from stream.layout import Array, Layout, Platform, PlatformKind

TILT_SHARE = 0.03
WEIGHT_SHARE = 0.01
PLACE_M = 0.010
#: Exchanged platforms are looked for without a marked spot only where there are few.
FEW_PLATFORMS = 4
#: Misfits this near to each other are equally good: the likelier suspect is named.
AS_GOOD = 0.25


@dataclass(frozen=True)
class Limits:
    """Limits for one load with the allowance for noise in them; None where not known."""

    tilt: float
    weight_n: float | None
    place_m: float | None


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """What the loaded stretch tells.

    ``seen`` is the load as the readings show it, ``mended`` as it is with
    the ``suspect`` put right (the same where there is none). ``blocked``
    names channels without which nothing can be told. ``gain`` is (what,
    factor) where one wrong gain explains weight and place at once.
    """

    limits: Limits
    seen: Seen | None
    mended: Seen | None
    suspect: Suspect | None
    blocked: tuple[str, ...]
    gain: tuple[str, float] | None
    platforms: tuple[Platform, ...]


@lru_cache(maxsize=1)  # three checks ask the same of one piece of evidence
def diagnose(e: Evidence) -> Diagnosis:
    """Judge the load of ``e``, which has a quiet and a loaded stretch."""
    layout = in_newtons(e.layout)
    added, error = response(e)
    felt = bearing(layout, added, error)
    spot = under(layout, e.spot) if e.spot is not None else None
    concerned = list(felt) + ([spot] if spot is not None and spot not in felt else [])
    bad = useless(e)
    of_concern = {c for p in concerned or layout.platforms for c in p.channels}
    blocked = tuple(c.label for c in e.channels if bad[c.index] and c.index in of_concern)
    seen = look(layout, added, error)
    limits = _limits(e, layout, seen)
    suspect, mended = None, seen
    if seen is not None and not blocked and _misfit(e, limits, seen, heavy=True) > 1.0:
        suspect = _culprit(e, layout, limits, added, error)
        if suspect is not None:
            mended = look(layout, suspect.mend(added), error)
    gain = None
    if suspect is None and seen is not None:
        gain = _gain(e, layout, limits, added, error)
    return Diagnosis(limits, seen, mended, suspect, blocked, gain, tuple(felt))


def expected_n(e: Evidence) -> float | None:
    """Return the known mass's weight, N, or None."""
    return None if e.mass_kg is None else e.mass_kg * e.gravity


def _limits(e: Evidence, layout: Layout, seen: Seen | None) -> Limits:
    noise = SIGMAS * seen.force_error if seen else 0.0
    size = max(seen.size, 1.0) if seen else 1.0
    weight = expected_n(e)
    place = None
    if e.spot is not None:
        place = PLACE_M + (SIGMAS * seen.place_error if seen else 0.0)
        tile = under(layout, e.spot)
        if not layout.measures_moments and tile is not None:
            # A tile tells only that the load is somewhere on it.
            place += float(np.abs(tile.corners[:, :2] - tile.centre[:2]).max())
    return Limits(
        tilt=TILT_SHARE + noise / size,
        weight_n=None if weight is None else WEIGHT_SHARE * weight + noise,
        place_m=place,
    )


def offset(e: Evidence, seen: Seen) -> Array | None:
    """Return seen place minus marked spot, (2,) m, or None where either is unknown."""
    return None if e.spot is None or seen.place is None else seen.place - np.array(e.spot)


def distance(e: Evidence, seen: Seen) -> float:
    """Return how far the load is seen from the marked spot, m; for tiles along the worse axis."""
    away = offset(e, seen)
    if away is None:
        return float("inf") if e.spot is not None else 0.0
    if e.layout.measures_moments:
        return float(np.linalg.norm(away))
    return float(np.abs(away).max())


def _misfit(e: Evidence, limits: Limits, seen: Seen, *, heavy: bool) -> float:
    """Return how badly ``seen`` fits the known load; up to 1 is within every limit.

    ``heavy``: whether its weight counts.
    """
    parts = [seen.tilt / limits.tilt, 2.0 if seen.downward else 0.0]
    weight = expected_n(e)
    if heavy and weight is not None and limits.weight_n:
        parts.append(abs(seen.size - weight) / limits.weight_n)
    if limits.place_m is not None:
        parts.append(distance(e, seen) / limits.place_m)
    return max(parts)


def _culprit(
    e: Evidence, layout: Layout, limits: Limits, added: Array, error: Array
) -> Suspect | None:
    """Return the suspect that explains the readings best; equals go to the likelier.

    Where none does with the right weight, the weight is left out: a gain may
    be wrong too. A load that is upright and in place needs no culprit then.
    """
    felt = bearing(layout, added, error)
    places: list[Platform | None] = [under(layout, e.spot)] if e.spot is not None else [None]
    if e.spot is None and len(layout.platforms) <= FEW_PLATFORMS:
        places += layout.platforms
    candidates = [s for place in places for s in suspects(layout, felt, place)]
    seen = look(layout, added, error)
    assert seen is not None
    for heavy in (True, False):
        if not heavy and not (seen.downward or seen.tilt > limits.tilt):
            break
        fits = []
        for s in candidates:
            view = look(layout, s.mend(added), error)
            misfit = _misfit(e, limits, view, heavy=heavy) if view is not None else np.inf
            if misfit <= 1.0:
                fits.append((misfit, s))
        if fits:
            least = min(misfit for misfit, _ in fits)
            return next(s for misfit, s in fits if misfit <= least + AS_GOOD)
    return None


def _gain(
    e: Evidence, layout: Layout, limits: Limits, added: Array, error: Array
) -> tuple[str, float] | None:
    """Return the one gain that, put right, makes weight and place right; None if none does."""
    weight = expected_n(e)
    if weight is None or limits.weight_n is None:
        return None
    seen = look(layout, added, error)
    assert seen is not None
    if abs(seen.size - weight) <= limits.weight_n or seen.force[2] <= 0:
        return None
    for what, channels in _gains(bearing(layout, added, error)):
        without = added.copy()
        without[channels] = 0.0
        rest = look(layout, without, error)
        carried = float(seen.force[2]) - (float(rest.force[2]) if rest else 0.0)
        if abs(carried) < 1.0:
            continue
        factor = 1.0 - (float(seen.force[2]) - weight) / carried
        if factor <= 0.1:
            continue
        mended = added.copy()
        mended[channels] *= factor
        view = look(layout, mended, error)
        if view is not None and _misfit(e, limits, view, heavy=False) <= 1.0:
            return what, 1.0 / factor
    return None


def _gains(platforms: list[Platform]) -> Iterator[tuple[str, list[int]]]:
    for p in platforms:
        yield p.name, list(p.channels)
        if p.kind is PlatformKind.WRENCH:
            yield f"{p.name} Fz (channel {p.channels[2]})", [p.channels[2]]
        elif p.kind is PlatformKind.CELLS:
            assert p.cells is not None
            for k in range(len(p.cells)):
                index = list(p.channels[3 * k : 3 * k + 3])
                yield f"{cell_name(p, k)} cell (channels {index[0]} to {index[2]})", index


def is_sign(d: Diagnosis) -> bool:
    """Whether the culprit is one that `signs` names."""
    return d.suspect is not None and d.suspect.kind is Kind.SIGN
