"""Checks with a load on the deck: signs, weight, position."""

from __future__ import annotations

import numpy as np

from stream.checks.diagnosis import (
    WEIGHT_SHARE,
    Diagnosis,
    diagnose,
    distance,
    expected_n,
    is_sign,
    offset,
)
from stream.checks.evidence import Evidence, Need
from stream.checks.plan import kilograms
from stream.checks.response import Seen
from stream.checks.statistics import signed
from stream.checks.verdict import Check, Finding, Status
from stream.layout import Array, Platform, PlatformKind

#: A corner or edge is named as the moment origin when the place is off by its lever within this.
LEVER_M = 0.03
#: Beyond this share of the known mass something else stands there.
ANOTHER_LOAD = 2.0


def _not_run(unit: str, limit: str, why: str) -> Finding:
    return Finding(Status.NOT_RUN, None, unit, limit, {"why": why})


def _blocked(d: Diagnosis, unit: str, limit: str) -> Finding | None:
    if d.blocked:
        return _not_run(unit, limit, f"{d.blocked[0]} is out of order, see stuck and saturation")
    if d.seen is None:
        return _not_run(unit, limit, "no load is felt by any force channel")
    return None


def _signs(e: Evidence) -> Finding:
    d = diagnose(e)
    limit = f"upright within {np.degrees(np.arctan(d.limits.tilt)):.1f} deg"
    if (out := _blocked(d, "deg", limit)) is not None:
        return out
    seen = d.seen
    assert seen is not None
    fields: dict[str, object] = {"tilt": f"{seen.tilt_deg:.1f}", "untested": _untested(d)}
    if is_sign(d):
        assert d.suspect is not None
        fields |= {"said": _capital(d.suspect.say), "do": d.suspect.do}
        return Finding(Status.FAIL, seen.tilt_deg, "deg", limit, fields, (d.suspect.key,))
    if seen.tilt <= d.limits.tilt and not seen.downward:
        return Finding(Status.PASS, seen.tilt_deg, "deg", limit, fields)
    if d.suspect is not None:
        return _not_run("deg", limit, f"{d.suspect.say}, see position")
    who = ", ".join(p.name for p in d.platforms[:3])
    fields |= {
        "said": f"A load that stands still pushes {seen.tilt_deg:.0f} degrees from upright on "
        f"{who}",
        "do": "see that nobody touches the mass; then compare that platform's signs, axes, "
        "corners and calibration in the layout with its sheet",
    }
    return Finding(Status.FAIL, seen.tilt_deg, "deg", limit, fields, (who,))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _untested(d: Diagnosis) -> str:
    level = [p.name for p in d.platforms if abs(p.axes[2, 0]) < 0.01]
    if not level or any(p.kind is PlatformKind.CELLS for p in d.platforms):
        return "" if not level else " A load that stands still cannot test sideways signs."
    return f" On the level {level[0]} a load that stands still cannot test sideways signs."


SIGNS = Check(
    name="signs",
    title="Signs, axes and plugs",
    needs=(Need.QUIET, Need.LOADED),
    limit="a load that stands still pushes upright within 3 % (1.7 degrees) and upward on every "
    "platform",
    reason="Gravity is the one force whose direction is known. On the slope of 1 in 12 a turned "
    "or exchanged axis tilts it by 8 to 17 %; cross-talk and levelling stay under 3 %. Each way "
    "of wiring that could be wrong is tried on the readings: the one that makes the load "
    "upright, right in weight and in place is named.",
    source="signs of a ground reaction: ISB (Wu & Cavanagh 1995; Derrick et al. 2020); "
    "cross-talk of 1 to 2 %: general laboratory practice",
    sentences={
        Status.PASS: "Up is up: the load pushes {tilt} degrees from upright.{untested}",
        Status.FAIL: "{said}; {do}.",
        Status.NOT_RUN: "Not judged: {why}.",
    },
    judge=_signs,
    on_empty_deck=True,
    after_zero=True,
)


def _weight(e: Evidence) -> Finding:
    d = diagnose(e)
    weight = expected_n(e)
    assert weight is not None
    assert e.mass_kg is not None
    noise = ((d.limits.weight_n or 0.0) - WEIGHT_SHARE * weight) / e.gravity
    limit = f"{kilograms(e.mass_kg)} kg +- {WEIGHT_SHARE:.0%}" + (f" (+- {noise:.2f} kg noise)")
    if (out := _blocked(d, "kg", limit)) is not None:
        return out
    seen = d.mended
    assert seen is not None
    assert d.limits.weight_n is not None
    mass = seen.size / e.gravity
    ratio = mass / e.mass_kg
    fields: dict[str, object] = {
        "mass": kilograms(mass),
        "known": kilograms(e.mass_kg),
        "error": signed((ratio - 1) * 100, 1),
        "once": " once the signs are right, see signs" if is_sign(d) else "",
        "where": d.platforms[0].name,
    }
    if abs(seen.size - weight) <= d.limits.weight_n:
        return Finding(Status.PASS, mass, "kg", limit, fields)
    if ratio > ANOTHER_LOAD:
        fields["do"] = "Is somebody standing on the deck? Put down the known mass alone."
        return Finding(Status.FAIL, mass, "kg", limit, fields)
    if d.gain is not None:
        what, factor = d.gain
        fields["do"] = (
            f"The gain of {what} is {factor:.3f} of what it should be: check its calibration "
            "in the layout and the amplifier's range."
        )
        return Finding(Status.FAIL, mass, "kg", limit, fields, (what,), {"gain": factor})
    fields["do"] = (
        "See that the whole mass stands on the deck and touches nothing else; then check the "
        "calibration in the layout and the amplifier's range."
    )
    return Finding(Status.FAIL, mass, "kg", limit, fields, (d.platforms[0].name,), {"gain": ratio})


WEIGHT = Check(
    name="weight",
    title="Known mass",
    needs=(Need.QUIET, Need.LOADED, Need.MASS),
    limit="within 1 % of the known mass, and what noise could do",
    reason="Forces are told in per cent of body weight taken on the same deck, which hides a "
    "common gain error: only a known mass shows it. Gravity differs by up to 0.27 % over the "
    "earth: give the local value where it is known.",
    source="1 % (or 5 N): general laboratory practice; a person's weight on research plates "
    "agrees with a scale to about 1 % (Santos & Duarte 2016); standard gravity 9.80665 m/s2: "
    "CGPM 1901",
    sentences={
        Status.PASS: "The known mass of {known} kg reads {mass} kg ({error} %){once}.",
        Status.FAIL: "The known mass of {known} kg reads {mass} kg ({error} %) on {where}{once}. "
        "{do}",
        Status.NOT_RUN: "Not judged: {why}.",
    },
    judge=_weight,
    on_empty_deck=True,
    after_zero=True,
)


def _position(e: Evidence) -> Finding:
    d = diagnose(e)
    assert d.limits.place_m is not None
    limit = f"within {d.limits.place_m * 1000:.0f} mm of the marked spot"
    away = offset(e, d.seen) if d.seen is not None else None
    if (out := _blocked(d, "mm", limit)) is not None:
        return out
    if is_sign(d):
        return _not_run("mm", limit, "the signs must be right first, see signs")
    if d.seen is None or away is None:
        return _not_run("mm", limit, "too little force stands on the deck to tell where")
    return _placed(e, d, d.seen, away, limit)


def _placed(e: Evidence, d: Diagnosis, seen: Seen, away: Array, limit: str) -> Finding:
    off = distance(e, seen)
    fields: dict[str, object] = {
        "off": f"{off * 1000:.0f}",
        "where": _where(away),
        "x": f"{seen.place[0]:.3f}" if seen.place is not None else "",
        "y": f"{seen.place[1]:.3f}" if seen.place is not None else "",
        "rough": "" if e.layout.measures_moments else " Tiles tell a place to a part of a tile.",
    }
    detail = {"dx_m": float(away[0]), "dy_m": float(away[1])}
    if d.suspect is None and off <= (d.limits.place_m or 0.0):
        return Finding(Status.PASS, off * 1000, "mm", limit, fields, (), detail)
    if d.gain is not None:
        return _not_run("mm", limit, "one wrong gain explains the place too, see weight")
    if d.suspect is not None:
        fields |= {"said": _capital(d.suspect.say), "do": d.suspect.do}
        blamed = d.suspect.key
    else:
        blamed = d.platforms[0].name
        corner = _lever(d.platforms[0], away)
        fields |= {
            "said": "The load does not show where it stands",
            "do": "see that the mass stands on the mark; if it does, the moment origin of "
            f"{blamed} is off by that much: correct `origin_m` in the layout"
            + (f" (it looks as if moments were given about its {corner})" if corner else ""),
        }
    return Finding(Status.FAIL, off * 1000, "mm", limit, fields, (blamed,), detail)


def _where(away: Array) -> str:
    x, y = (round(float(v) * 1000) for v in away)
    along = f"{abs(x)} mm {'towards home' if x > 0 else 'towards second base'}"
    across = f"{abs(y)} mm to the {'left' if y > 0 else 'right'}"
    return f"{along} and {across}"


def _lever(platform: Platform, away: Array) -> str | None:
    """Return the corner or edge whose lever from the centre equals the error of the place."""
    if platform.kind is not PlatformKind.WRENCH:
        return None
    c = platform.corners[:, :2]
    places = {
        "front left corner": c[0],
        "rear left corner": c[1],
        "rear right corner": c[2],
        "front right corner": c[3],
        "front edge": (c[0] + c[3]) / 2,
        "rear edge": (c[1] + c[2]) / 2,
        "left edge": (c[0] + c[1]) / 2,
        "right edge": (c[2] + c[3]) / 2,
    }
    for name, place in places.items():
        if np.linalg.norm(platform.centre[:2] - place - away) < LEVER_M:
            return name
    return None


POSITION = Check(
    name="position",
    title="Place of the known mass",
    needs=(Need.QUIET, Need.LOADED, Need.SPOT),
    limit="centre of pressure within 10 mm of the marked spot, and what noise could do; on "
    "tiles within half a tile",
    reason="Stride length is told in centimetres. Plates in laboratories show 2 to 6 mm as "
    "delivered, some 10 to 30 mm when badly mounted. One spot off both middle lines tells a "
    "mirrored deck, a turned one and a displaced moment origin apart.",
    source="Bobbert & Schamhardt 1990 (3.5 and 6.3 mm before correction); Gait Posture 2011;33:"
    "724-726 (2.3 to 14 mm before, 0.2 to 2.3 mm after); 10 mm: common practice, no source; "
    "rod test on several spots: Holden et al. 2003",
    sentences={
        Status.PASS: "The load is where it should be: {off} mm off.{rough}",
        Status.FAIL: "{said}: it reads at x {x}, y {y} m, {off} mm off the mark ({where}). What to "
        "do: {do}.",
        Status.NOT_RUN: "Not judged: {why}.",
    },
    judge=_position,
    on_empty_deck=True,
    after_zero=True,
)
