"""Mains hum: where 50 and 60 Hz and their harmonics show at a sample rate, and how strong.

A tone of frequency f sampled at fs shows at |f - fs round(f / fs)| (its
alias; the sampling theorem's folding). At 200 Hz the third harmonic of 50 Hz
shows at 50 Hz again, that of 60 Hz at 20 Hz, inside the movement's own band.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stream.checks.channels import names, useless
from stream.checks.evidence import Channel, Evidence, Need
from stream.checks.statistics import detrended
from stream.checks.verdict import Check, Finding, Status
from stream.forces import platform_forces
from stream.layout import Array

MAINS_HZ = (50.0, 60.0)
HARMONICS = 6
#: The mains may stray by this share of its frequency (EN 50160: +- 1 %, 99.5 % of a year).
STRAY = 0.01
HUM_WARN, HUM_FAIL = 2.5, 5.0
#: A line must stand out of its neighbourhood's power by this factor: for noise the chance is
#: exp(-25) a bin; over some 15,000 bins of a tiled deck, the floor itself being uncertain by a
#: fifth, 1 in 30,000.
PROMINENCE = 25.0
NEIGHBOURS_HZ = 6.0
LEAST_S = 2.0


@dataclass(frozen=True)
class Line:
    """One place in the spectrum where the mains or a harmonic of it shows."""

    mains_hz: float
    harmonic: int
    shows_hz: float
    half_width_hz: float

    @property
    def label(self) -> str:
        """The line in words."""
        true = self.mains_hz * self.harmonic
        text = f"{self.mains_hz:g} Hz mains"
        if self.harmonic > 1:
            text += f", harmonic at {true:g} Hz"
        return text + (f", seen at {self.shows_hz:.1f} Hz" if self.shows_hz != true else "")


@dataclass(frozen=True, eq=False)
class Hum:
    """A line's amplitude (channels,) in the channels' units, and whether noise could not do it."""

    line: Line
    amplitude: Array
    certain: np.ndarray


def alias(frequency_hz: float, rate_hz: float) -> float:
    """Return the frequency between 0 and rate / 2 at which a tone shows when sampled at a rate."""
    return abs(frequency_hz - rate_hz * round(frequency_hz / rate_hz))


def lines(rate_hz: float) -> tuple[Line, ...]:
    """Return where hum can show at this rate: the fundamentals first, then their harmonics.

    Left out are places under 1 Hz, where a slow drift lives.
    """
    found = []
    for k in range(1, HARMONICS + 1):
        for f in MAINS_HZ:
            shows = alias(f * k, rate_hz)
            if shows >= 1.0:
                found.append(Line(f, k, shows, STRAY * f * k))
    return tuple(found)


def hum(readings: Array, rate_hz: float) -> tuple[Hum, ...]:
    """Return every line's hum in ``readings`` (n, channels).

    The amplitude is the highest point of the Hann-windowed spectrum within
    the line's reach, a quarter of a bin apart; the floor is the median power
    around it (the median of an exponential is ln 2 of its mean).
    """
    n = len(readings)
    window = np.hanning(n)[:, None]
    padded = 4 * n
    spectrum = np.abs(np.fft.rfft(detrended(readings) * window, padded, axis=0)) ** 2
    spectrum *= (2.0 / window.sum()) ** 2  # squared amplitude of a tone
    frequency = np.fft.rfftfreq(padded, 1.0 / rate_hz)
    resolution = 2.0 * rate_hz / n  # half the main lobe of the window
    found = []
    for line in lines(rate_hz):
        away = np.abs(frequency - line.shows_hz)
        inside = away <= line.half_width_hz + resolution / 2
        around = (away > line.half_width_hz + 2 * resolution) & (
            away < line.half_width_hz + 2 * resolution + NEIGHBOURS_HZ
        )
        peak = spectrum[inside].max(axis=0)
        floor = np.median(spectrum[around], axis=0) / np.log(2.0)
        if line.shows_hz > rate_hz / 2 - resolution:
            peak = peak / 4.0  # at half the rate both halves of the spectrum meet
        found.append(Hum(line, np.sqrt(peak), peak > PROMINENCE * floor))
    return tuple(found)


def without_mains(readings: Array, rate_hz: float) -> Array:
    """Return ``readings`` (n, channels) with every certain hum taken out of its own channel."""
    spectrum = np.fft.rfft(detrended(readings), axis=0)
    frequency = np.fft.rfftfreq(len(readings), 1.0 / rate_hz)
    for h in hum(readings, rate_hz):
        reach = h.line.half_width_hz + 2.0 * rate_hz / len(readings)
        inside = np.abs(frequency - h.line.shows_hz) <= reach
        spectrum[np.ix_(inside, h.certain)] = 0.0
    return np.asarray(np.fft.irfft(spectrum, len(readings), axis=0))


def _mains(e: Evidence) -> Finding:
    assert e.quiet is not None
    limit = f"amplitude under {HUM_WARN:g} N or N m"
    if e.quiet.seconds < LEAST_S:
        return Finding(Status.NOT_RUN, None, "N", limit, {})
    index = [c.index for c in e.channels]
    readings = np.where(useless(e)[None, :], 0.0, e.quiet.readings)[:, index]
    deck = platform_forces(e.layout, e.quiet.samples).force[..., 2].sum(axis=1)
    if useless(e).any():
        deck = np.zeros_like(deck)
    labels = [*e.channels, Channel(-1, "whole deck", "Fz", "N", None)]
    worst_amplitude, worst = 0.0, None
    blamed: dict[str, Channel] = {}
    detail: dict[str, float] = {}
    for h in hum(np.column_stack([readings, deck]), e.quiet.rate_hz):
        real = np.where(h.certain, h.amplitude, 0.0)
        at = int(np.argmax(real))
        detail[h.line.label] = float(real[at])
        for i in np.flatnonzero(real > HUM_WARN):
            blamed[_label(labels[i])] = labels[i]
        if real[at] > worst_amplitude:
            worst_amplitude, worst = float(real[at]), (h.line, labels[at])
    status = Status.PASS
    if worst_amplitude > HUM_WARN:
        status = Status.FAIL if worst_amplitude > HUM_FAIL else Status.WARN
    fields = {
        "value": f"{worst_amplitude:.1f}",
        "unit": worst[1].unit if worst else "N",
        "line": worst[0].label if worst else "",
        "who": _label(worst[1]) if worst else "",
        "many": names([c for c in blamed.values() if c.index >= 0]) or "whole deck",
    }
    return Finding(status, worst_amplitude, "N", limit, fields, tuple(blamed), detail)


def _label(channel: Channel) -> str:
    return channel.label if channel.index >= 0 else "whole deck Fz"


MAINS = Check(
    name="mains",
    title="Mains hum",
    needs=(Need.QUIET,),
    limit="amplitude under 2.5 N or N m at 50 or 60 Hz, their harmonics and aliases, on any "
    "channel and on the sum of the deck (fails over 5); what noise could do is not hum",
    reason="Hum adds up over platforms where noise does not. The force at foot contact rises "
    "by more than 5 N a millisecond, so 5 N of hum moves the contact by under 1 ms; harmonics "
    "that fold into the movement's own band cannot be filtered out.",
    source="folding: sampling theorem; the mains' stray of 1 %: EN 50160; amplitude: ours",
    sentences={
        Status.PASS: "No mains hum that matters (at most {value} {unit}).",
        Status.WARN: "Some mains hum: {value} {unit} on {who} ({line}). Keep signal cables away "
        "from power cables and chargers.",
        Status.FAIL: "Mains hum of {value} {unit} on {who} ({line}); concerned: {many}. Move "
        "signal cables away from power cables, earth the deck at one point only, try another "
        "supply. Mains work near wet ground is for an electrician.",
        Status.NOT_RUN: "Not run: hum needs two seconds of empty deck.",
    },
    judge=_mains,
    on_empty_deck=True,
)
