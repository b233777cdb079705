"""Each pitcher's curves: mean, band of one SD, and the single pitches where they are few."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.curves import Component, curves
from analysis.page import figure
from analysis.report.drawing import GREY, Panel, Range, around, drawing
from analysis.report.gather import Part
from analysis.running import is_void
from stream.layout import Array
from stream.outputs import PitchRecord

GRID_S: Array = np.linspace(-1.2, 0.5, 341)
#: Up to here the single pitches are drawn too; more would only blacken the band.
MOST_SINGLE = 12
#: Fewest pitches for a band.
BAND_FROM = 5
_DASH = "6 3"
_WIDTH, _HEIGHT = 720.0, 260.0
_PANELS = ((Component.VERTICAL, "Vertical force"), (Component.FORWARD, "Force towards home"))


def curves_of(part: Part, code: str, own: Sequence[PitchRecord]) -> str:
    """Return the figure of one pitcher's curves, or "" where there are none."""
    used = [
        r for r in own if r.number in part.traces and not is_void(r) and r.body_weight_n is not None
    ]
    if not used:
        return ""
    panels = []
    for index, (component, title) in enumerate(_PANELS):
        drive, lead = _sampled(part, used, component)
        panels.append(_panel(index, f"{title}, % body weight", drive, lead))
    who = code or "nobody named"
    return figure(drawing(_WIDTH, _HEIGHT, panels), f"{who}: {_caption(len(used))}")


def _sampled(part: Part, used: Sequence[PitchRecord], component: Component) -> tuple[Array, Array]:
    """Return drive and lead leg's curves of ``used`` pitches on the grid, (pitches, grid)."""
    drive, lead = np.empty((2, len(used), len(GRID_S)))
    for row, record in enumerate(used):
        own = curves(record, part.traces[record.number], component)
        for out, values in ((drive, own.drive), (lead, own.lead)):
            out[row] = np.interp(GRID_S, own.time_s, values, left=np.nan, right=np.nan)
    return drive, lead


def _panel(index: int, title: str, drive: Array, lead: Array) -> Panel:
    width = _WIDTH / len(_PANELS)
    everything = np.concatenate([drive.ravel(), lead.ravel()])
    panel = Panel(
        index * width,
        width,
        _HEIGHT,
        Range(float(GRID_S[0]), float(GRID_S[-1])),
        around(everything, least=50.0),
        title,
        "seconds from foot contact",
    )
    panel.upright(0.0, "")
    for values, dash in ((drive, ""), (lead, _DASH)):
        if len(values) <= MOST_SINGLE:
            for single in values:
                panel.line(GRID_S, single, dash=dash and "2 2", width=0.5, ink=GREY)
        mean, sd = _mean_and_sd(values)
        if len(values) >= BAND_FROM:
            panel.band(GRID_S, mean - sd, mean + sd)
        panel.line(GRID_S, mean, dash=dash, width=2.0)
    _name_lines(panel, drive, lead)
    return panel


def _mean_and_sd(values: Array) -> tuple[Array, Array]:
    """Return mean and SD over pitches where at least half of them are known, else NaN."""
    known = np.isfinite(values).sum(axis=0)
    enough = known >= max(1, len(values) / 2)
    filled = np.where(np.isfinite(values), values, 0.0)
    mean = np.where(enough, filled.sum(axis=0) / np.maximum(known, 1), np.nan)
    left = np.where(np.isfinite(values), values - mean, 0.0)
    sd = np.sqrt((left**2).sum(axis=0) / np.maximum(known - 1, 1))
    return mean, np.where(enough, sd, np.nan)


def _name_lines(panel: Panel, drive: Array, lead: Array) -> None:
    """Write each leg's name at the outermost point of its mean."""
    for values, name, anchor in ((drive, "drive leg", "end"), (lead, "lead leg", "start")):
        mean, _ = _mean_and_sd(values)
        known = np.where(np.isfinite(mean), np.abs(mean), -1.0)
        at = int(np.argmax(known))
        shift = -0.04 if anchor == "end" else 0.12
        panel.words(float(GRID_S[at]) + shift, float(mean[at]), name, anchor)


def _caption(count: int) -> str:
    pitches = f"{count} pitch" if count == 1 else f"{count} pitches"
    band = " grey band: mean ± 1 SD;" if count >= BAND_FROM else ""
    single = " thin lines: single pitches;" if count <= MOST_SINGLE else ""
    return (
        f"mean of {pitches}; solid: drive leg (rubber), dashed: lead leg (landing);{band}{single} "
        "the dotted line is foot contact. Voided pitches are left out."
    )
