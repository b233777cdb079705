"""Each pitcher's curves: mean, band of one SD, and the single pitches where they are few."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.curves import Component, curves
from analysis.mean_curve import BAND_FROM, Mask, mean_and_sd, shared
from analysis.page import figure
from analysis.report.drawing import GREY, Panel, Range, around, drawing
from analysis.report.gather import Part
from analysis.report.numbers import ESTIMATE
from analysis.running import is_void
from analysis.sessions.series import quantity, told_of
from stream.layout import Array
from stream.outputs import PitchRecord

GRID_S: Array = np.linspace(-1.2, 0.5, 341)
#: Up to here the single pitches are drawn too; more would only blacken the band.
MOST_SINGLE = 12
#: An estimate wherever the load's share between the feet is one.
_SHARED = quantity("landing_peak_bw")
_ROUGH = f" {ESTIMATE} estimate: how the load is shared while both feet are down (lever rule)."
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
    rough = told_of(_SHARED, used).estimated
    sampled = [_sampled(part, used, component) for component, _ in _PANELS]
    rows, times = shared(np.sum([drive + lead for drive, lead in sampled], axis=0))
    panels = [
        _panel(index, f"{ESTIMATE if rough else ''}{title}, % body weight", legs, rows, times)
        for index, ((_, title), legs) in enumerate(zip(_PANELS, sampled, strict=True))
    ]
    who = code or "nobody named"
    caption = _caption(int(rows.sum()), len(used)) + (_ROUGH if rough else "")
    return figure(drawing(_WIDTH, _HEIGHT, panels), f"{who}: {caption}")


def _sampled(part: Part, used: Sequence[PitchRecord], component: Component) -> tuple[Array, Array]:
    """Return drive and lead leg's curves of ``used`` pitches on the grid, (pitches, grid)."""
    drive, lead = np.empty((2, len(used), len(GRID_S)))
    for row, record in enumerate(used):
        own = curves(record, part.traces[record.number], component)
        for out, values in ((drive, own.drive), (lead, own.lead)):
            out[row] = np.interp(GRID_S, own.time_s, values, left=np.nan, right=np.nan)
    return drive, lead


def _panel(index: int, title: str, legs: tuple[Array, Array], rows: Mask, times: Mask) -> Panel:
    drive, lead = legs
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
    means = []
    for values, dash in ((drive, ""), (lead, _DASH)):
        if len(values) <= MOST_SINGLE:
            for single in values:
                panel.line(GRID_S, single, dash=dash and "2 2", width=0.5, ink=GREY)
        mean, sd = mean_and_sd(values, rows, times)
        if rows.sum() >= BAND_FROM:
            panel.band(GRID_S, mean - sd, mean + sd)
        panel.line(GRID_S, mean, dash=dash, width=2.0)
        means.append(mean)
    _name_line(panel, means[0], "drive leg", "end")
    _name_line(panel, means[1], "lead leg", "start")
    return panel


def _name_line(panel: Panel, mean: Array, name: str, anchor: str) -> None:
    """Write a leg's name at the outermost point of its mean."""
    known = np.where(np.isfinite(mean), np.abs(mean), -1.0)
    at = int(np.argmax(known))
    if known[at] < 0.0:
        return
    shift = -0.04 if anchor == "end" else 0.12
    panel.words(float(GRID_S[at]) + shift, float(mean[at]), name, anchor)


def _caption(of: int, count: int) -> str:
    pitches = f"{count} pitch" if count == 1 else f"{count} pitches"
    most = f"{of} of {pitches} (the others' curves are shorter or have holes)"
    band = " grey band: mean ± 1 SD;" if of >= BAND_FROM else ""
    single = " thin lines: single pitches;" if count <= MOST_SINGLE else ""
    return (
        f"mean of {pitches if of == count else most}, drawn as far as all of these go; solid: "
        f"drive leg (rubber), dashed: lead leg (landing);{band}{single} the dotted line is foot "
        "contact. Voided pitches are left out."
    )
