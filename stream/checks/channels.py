"""Checks of single channels: stuck ones, and ones at the end of their range."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from stream.checks.evidence import Channel, Evidence, Need, Stretch
from stream.checks.verdict import Check, Finding, Status
from stream.layout import Array

Flags = npt.NDArray[np.bool_]

FREEZE_S = 0.5
REPEATED_SHARE = 0.2
PINNED_SHARE = 0.98
NEAR_SHARE = 0.80
#: Equal readings in a row, at the channel's own extreme under load, that make a flat top.
FLAT_S = 0.1
FLAT_SHARE = 0.1


def longest_run(samples: Array) -> npt.NDArray[np.intp]:
    """Return the length of each channel's longest run of equal samples (n, channels)."""
    same = samples[1:] == samples[:-1]
    best = np.zeros(samples.shape[1], dtype=np.intp)
    run = np.zeros(samples.shape[1], dtype=np.intp)
    if not same.any():
        return best + 1
    for row in same:
        run = (run + 1) * row
        np.maximum(best, run, out=best)
    return best + 1


def pinned(e: Evidence) -> Flags:
    """Return which channels reached the end of their range, (layout.channels,)."""
    if e.reach is None:
        return np.zeros(e.layout.channels, dtype=bool)
    return np.asarray(np.nan_to_num(e.reach) >= PINNED_SHARE)


def flat_topped(e: Evidence) -> Flags:
    """Return which channels are cut off under load: flat at their extreme, away from their zero."""
    flags = np.zeros(e.layout.channels, dtype=bool)
    if e.quiet is None or e.loaded is None:
        return flags
    samples = e.loaded.samples
    top = np.where(samples.mean(axis=0) >= e.quiet.samples.mean(axis=0), 1.0, -1.0) * samples
    share = (top == top.max(axis=0)).mean(axis=0)
    runs = longest_run(samples) >= FLAT_S * e.loaded.rate_hz
    moved = np.abs(e.loaded.level - e.quiet.level) > 6 * e.quiet.readings.std(axis=0) + 5.0
    # A coarse converter has equal neighbours anyway: its flat top proves nothing.
    fine = (e.quiet.samples[1:] == e.quiet.samples[:-1]).mean(axis=0) < 0.2
    return np.asarray(runs & moved & fine & (share > FLAT_SHARE))


@lru_cache(maxsize=1)  # most checks ask for it
def stuck(e: Evidence) -> dict[int, str]:
    """Return the channels that stand still, by index, and how: they tell nothing.

    One that stands still at the end of its range is saturated, not stuck.
    """
    found: dict[int, str] = {}
    at_end = pinned(e) | flat_topped(e)
    seen = [s for s in (e.quiet, e.loaded) if s is not None]
    alive = np.zeros(e.layout.channels, dtype=bool)
    if len(seen) == 2:  # noise under one step of a coarse converter, but it does follow a load
        alive = (np.ptp(seen[0].samples, axis=0) == 0) & (
            seen[0].samples.mean(axis=0) != seen[1].samples.mean(axis=0)
        )
    for stretch in seen:
        runs = longest_run(stretch.samples)
        usual = (stretch.samples[1:] == stretch.samples[:-1]).mean(axis=0)
        for c in e.channels:
            if at_end[c.index] or alive[c.index]:
                continue
            run = int(runs[c.index])
            if run == len(stretch.samples):
                found.setdefault(c.index, "never moves")
            # Coarse steps make equal neighbours; a freeze is a long run where that is not usual.
            elif run >= FREEZE_S * stretch.rate_hz and usual[c.index] < 0.5 + 0.5 * (
                run / len(stretch.samples)
            ):
                found.setdefault(c.index, f"stood still for {run / stretch.rate_hz:.1f} s")
    return found


def useless(e: Evidence) -> Flags:
    """Return the channels that other checks leave to `stuck` and `saturation`, (channels,)."""
    flags = pinned(e) | flat_topped(e)
    flags[list(stuck(e))] = True
    return flags


def repeated_share(stretch: Stretch) -> float:
    """Return the share of frames that equal the one before in every channel that moves."""
    moving = np.ptp(stretch.samples, axis=0) > 0
    if not moving.any():
        return 0.0
    samples = stretch.samples[:, moving]
    return float((samples[1:] == samples[:-1]).all(axis=1).mean())


def names(channels: list[Channel], most: int = 4) -> str:
    """Return channels in words, at most ``most`` of them by name."""
    said = ", ".join(c.label for c in channels[:most])
    return said + (f" and {len(channels) - most} more" if len(channels) > most else "")


def _stuck(e: Evidence) -> Finding:
    assert e.quiet is not None
    found = stuck(e)
    bad = [c for c in e.channels if c.index in found]
    copies = repeated_share(e.quiet)
    blames = tuple(c.label for c in bad)
    if bad and len(bad) == len(e.channels):
        said = "No channel moves at all: the device sends the same frame again and again"
    elif bad:
        how = found[bad[0].index]
        said = f"{names(bad)} {how if len(bad) == 1 else 'stand still'}"
    else:
        said = f"{copies:.0%} of the frames are copies of the one before"
    fields = {"said": said, "count": len(e.channels)}
    fails = bool(bad) or copies > REPEATED_SHARE
    return Finding(
        Status.FAIL if fails else Status.PASS,
        float(len(bad)),
        "channels",
        "none",
        fields,
        blames,
        {"copied_frames_share": copies},
    )


STUCK = Check(
    name="stuck",
    title="Channels that stand still",
    needs=(Need.QUIET,),
    limit="no channel without change, or still for 0.5 s where it usually moves; under 20 % "
    "copied frames",
    reason="A live amplifier is never without noise: a reading that stays the same to the last "
    "bit comes from a loose plug, a dead cell or a program that repeats its last value.",
    source="common practice, no source",
    sentences={
        Status.PASS: "All {count} channels are alive.",
        Status.FAIL: "{said}. Check the plug and cable of that sensor, then switch the amplifier "
        "off and on.",
    },
    judge=_stuck,
)


def _saturation(e: Evidence) -> Finding:
    at_end, flat = pinned(e), flat_topped(e)
    bad = [c for c in e.channels if at_end[c.index] or flat[c.index]]
    reach = np.full(e.layout.channels, np.nan) if e.reach is None else e.reach
    known = [c for c in e.channels if np.isfinite(reach[c.index])]
    if not known and not bad:
        return Finding(Status.NOT_RUN, None, "%", "80 % of full scale", {"why": "no range"})
    worst = max(known, key=lambda c: reach[c.index]) if known else bad[0]
    value = float(reach[worst.index]) * 100 if known else None
    status = Status.PASS
    if bad:
        status = Status.FAIL
    elif value is not None and value > NEAR_SHARE * 100:
        status, bad = Status.WARN, [worst]
    fields = {
        "who": names(bad) if bad else worst.label,
        "value": "" if value is None else f"{value:.0f}",
    }
    return Finding(status, value, "%", "80 % of full scale", fields, tuple(c.label for c in bad))


SATURATION = Check(
    name="saturation",
    title="Readings at the end of the range",
    needs=(Need.TIMING,),
    limit="80 % of full scale (fails at 98 %, or where a reading is cut off flat under load)",
    reason="A landing loads a platform with two to three and a half times body weight; what "
    "already stands near full scale in a set-up check will be cut off in a pitch.",
    source="range of six body weights for jumps: Owen 2014; the shares: common practice, no source",
    sentences={
        Status.PASS: "No reading comes near its end: at most {value} % of full scale ({who}).",
        Status.WARN: "{who} reaches {value} % of full scale. Set a larger range at the "
        "amplifier, or take its zero again with the deck empty.",
        Status.FAIL: "{who}: the reading is cut off at its end. Set a larger range at the "
        "amplifier; if the deck is empty, the sensor or its cable is broken.",
        Status.NOT_RUN: "Not run: the layout gives no range for its channels (key `range`).",
    },
    judge=_saturation,
)
