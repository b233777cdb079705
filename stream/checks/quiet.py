"""Checks on the empty deck: zero, noise, drift."""

from __future__ import annotations

import numpy as np

from stream.checks.channels import names, useless
from stream.checks.evidence import Evidence, Need, Quiet
from stream.checks.mains import without_mains
from stream.checks.statistics import detrended, signed
from stream.checks.verdict import Check, Finding, Status
from stream.forces import platform_forces
from stream.layout import Array

#: Upward load of one platform that is a person, not an offset, N.
PERSON_N = 250.0
#: From here on a zero that fails on a platform that is pressed down may be a thing left on it, N.
LEFT_N = 25.0
#: Offsets, N on force channels, N m on moment channels: too large in any case; and from where on
#: one is too large if it is this many times the root mean square of the others.
ZERO_MOST, ZERO_ODD, ZERO_SPREADS = 100.0, 25.0, 8.0
#: A moment's offset is compared with forces' at this arm, m: half a platform, roughly.
MOMENT_ARM_M = 0.3
NOISE_FAIL = 12.0
DRIFT_FAIL = 0.1


def load_on(e: Evidence) -> float:
    """Return the greatest vertical force on one platform that should be empty, N.

    By the device's own zero, and without channels that stand still or at
    their end.
    """
    assert e.quiet is not None
    mean = np.where(useless(e), 0.0, e.quiet.samples.mean(axis=0))
    return float(platform_forces(e.layout, mean[None, :]).force[..., 2].max())


def left_on(e: Evidence) -> str | None:
    """Return what seems to have been left on the deck that should be empty, in words, else None.

    A platform that is pressed down and whose zero fails: no reading tells a
    thing from a sensor's offset, so it is for the operator to look.
    """
    assert e.quiet is not None
    mean = np.where(useless(e), 0.0, e.quiet.samples.mean(axis=0))
    vertical = platform_forces(e.layout, mean[None, :]).force[0, :, 2]
    if vertical.max() <= LEFT_N:
        return None
    pressed = e.layout.platforms[int(vertical.argmax())].channels
    found = _zero(e)
    concerned = {c.index for c in e.channels if c.label in found.blames} & set(pressed)
    return str(found.fields["said"]) if concerned else None


def _worst(e: Evidence, figures: Array) -> tuple[int, dict[str, float]]:
    """Return the index in ``e.channels`` of the greatest figure and all figures by label."""
    index = [c.index for c in e.channels]
    chosen = np.where(useless(e)[index], 0.0, figures[index])
    detail = {c.label: float(figures[c.index]) for c in e.channels}
    return int(np.argmax(np.abs(chosen))), detail


def _zero(e: Evidence) -> Finding:
    assert e.quiet is not None
    level = e.quiet.level
    at, detail = _worst(e, level)
    worst = e.channels[at]
    value = float(level[worst.index])
    size = np.abs(level)
    index = [c.index for c in e.channels]
    alike = size.copy()
    alike[[c.index for c in e.channels if c.unit == "N m"]] /= MOMENT_ARM_M
    squares = np.where(useless(e), 0.0, alike**2)[index].sum() - alike**2
    others = np.sqrt(np.maximum(squares, 0.0) / max(len(index) - 1, 1))
    bad = (size > ZERO_MOST) | ((size > ZERO_ODD) & (alike > ZERO_SPREADS * others))
    bad &= ~useless(e)
    blamed = [c for c in e.channels if bad[c.index]]
    load = load_on(e)
    if load > PERSON_N:
        said = f"{load:.0f} N stand on one platform of the deck that should be empty"
    else:
        said = f"{names(blamed)}: {signed(value, 0)} {worst.unit} with nobody on the deck"
    if e.mass_kg is not None and 0.7 < load / (e.mass_kg * e.gravity) < 1.3:
        said += (
            ". Perhaps the known mass stood there from the beginning: the empty deck comes first"
        )
    fields = {"said": said, "who": worst.label, "value": signed(value, 1), "unit": worst.unit}
    return Finding(
        Status.FAIL if blamed or load > PERSON_N else Status.PASS,
        value,
        worst.unit,
        f"within {ZERO_MOST:g} {worst.unit}; one alone within {ZERO_ODD:g}",
        fields,
        tuple(c.label for c in blamed),
        detail,
    )


ZERO = Check(
    name="zero",
    title="Zero of every channel on the empty deck",
    needs=(Need.QUIET,),
    limit="within 100 N or 100 N m; within 25 where it stands out (eight times the root mean "
    "square of the other channels)",
    reason="The zero taken here removes an offset, so offsets that scatter alike do no harm. One "
    "that stands out is something left on the deck, a deck that touches its frame or a strained "
    "sensor, and it will move. 100 N are one per cent of a usual full scale.",
    source="common practice, no source; that the plate is zeroed first: rod test (Holden et al. "
    "2003)",
    sentences={
        Status.PASS: "The zero is in order: at most {value} {unit} ({who}); it is taken out.",
        Status.FAIL: "{said}. Take everything and everybody off the deck, see that nothing "
        "wedges it, press the device's own zero, and check again.",
    },
    judge=_zero,
)


def _noise(e: Evidence) -> Finding:
    assert e.quiet is not None
    rest = detrended(without_mains(e.quiet.readings, e.quiet.rate_hz))
    sd = rest.std(axis=0)
    # SD of an SD from n samples is sd / sqrt(2 n): a legal channel must not fail by chance.
    margin = 1.0 + 5.0 / np.sqrt(2.0 * len(rest))
    at, detail = _worst(e, sd)
    worst = e.channels[at]
    bad = (sd > NOISE_FAIL * margin) & ~useless(e)
    blamed = [c for c in e.channels if bad[c.index]]
    fields = {
        "who": names(blamed) if blamed else worst.label,
        "value": f"{sd[worst.index]:.1f}",
        "unit": worst.unit,
        "limit": f"{NOISE_FAIL:g}",
    }
    return Finding(
        Status.FAIL if blamed else Status.PASS,
        float(sd[worst.index]),
        worst.unit,
        f"SD under {NOISE_FAIL:g} {worst.unit}",
        fields,
        tuple(c.label for c in blamed),
        detail,
    )


NOISE = Check(
    name="noise",
    title="Broad noise of every channel",
    needs=(Need.QUIET,),
    limit="SD under 12 N or 12 N m, mains hum and slope taken out first",
    reason="Foot contact is the crossing of 10 % of body weight: 59 N for a pitcher of 60 kg. "
    "A fifth of that is 12 N: noise then crosses by itself once in millions of samples.",
    source="ours: from the definition of foot contact",
    sentences={
        Status.PASS: "The channels are quiet: at most {value} {unit} ({who}).",
        Status.FAIL: "{who}: noise of {value} {unit} (SD) with nobody on the deck; at most "
        "{limit} is allowed. Look for a loose plug, a broken shield, or something that shakes "
        "the deck (a fan, a generator, people walking beside it).",
    },
    judge=_noise,
    on_empty_deck=True,
)


def _drift(e: Evidence) -> Finding:
    assert e.quiet is not None
    t = e.quiet.trend
    at, detail = _worst(e, t.slope)
    worst = e.channels[at]
    sure = drifting(e.quiet) & ~useless(e)
    blamed = [c for c in e.channels if sure[c.index]]
    if blamed:
        worst = max(blamed, key=lambda c: abs(t.slope[c.index]))
    slope = float(t.slope[worst.index])
    finest = max(DRIFT_FAIL, float(t.margin()[worst.index]))
    fields = {
        "who": names(blamed) if blamed else worst.label,
        "value": signed(slope, 2),
        "unit": worst.unit,
        "minute": signed(slope * 60, 0),
        "finest": f"{finest:.2f}",
        "seconds": f"{e.quiet.seconds:.0f}",
    }
    return Finding(
        Status.FAIL if blamed else Status.PASS,
        slope,
        f"{worst.unit}/s",
        f"under {DRIFT_FAIL:g} {worst.unit}/s, or what noise hides: {finest:.2f}",
        fields,
        tuple(c.label for c in blamed),
        detail,
    )


def drifting(quiet: Quiet) -> np.ndarray:
    """Return which channels drift beyond the limit and beyond doubt, (channels,)."""
    t = quiet.trend
    return np.asarray(np.abs(t.slope) > np.maximum(DRIFT_FAIL, t.margin()))


def zero_at(quiet: Quiet, frame: float) -> tuple[Array, Array]:
    """Return each channel's zero at ``frame`` and its standard error, (channels,), N and N m.

    A channel that certainly drifts is followed along its slope; others keep
    their mean.
    """
    ahead = (frame - quiet.middle_frame) / quiet.rate_hz
    moving = drifting(quiet)
    level = quiet.level + np.where(moving, quiet.trend.slope * ahead, 0.0)
    error = np.hypot(quiet.level_error, np.where(moving, quiet.trend.error * ahead, 0.0))
    return level, error


DRIFT = Check(
    name="drift",
    title="Slope of the zero",
    needs=(Need.QUIET,),
    limit="under 0.1 N/s or N m/s; what the noise of so short a stretch hides is not held "
    "against it",
    reason="0.1 N/s moves the zero by half a per cent of body weight (about 4 N) within a "
    "minute, the warning limit during a session. Laboratory plates keep 1 to 2 N in ten "
    "minutes; so small a drift takes minutes to see (--seconds).",
    source="laboratory figure: general practice, no source; the test is Student's t on "
    "quarter-second means",
    sentences={
        Status.PASS: "The zero stands still: no slope over {finest} {unit}/s in {seconds} s.",
        Status.FAIL: "{who}: the zero moves by {value} {unit}/s ({minute} {unit} a minute). Let "
        "the amplifier warm up for 15 minutes, keep sun and heaters off the deck, and check "
        "that nothing leans on it.",
    },
    judge=_drift,
    on_empty_deck=True,
)
