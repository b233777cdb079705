"""The study's plots as SVG text, readable in black and white.

Lines differ by dash and points by shape or fill, never by colour alone. Figures are built
without the global state of ``pyplot``, and their text stays text.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

_STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "study",
    "font.family": "sans-serif",
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "lines.linewidth": 1.4,
    "text.parse_math": False,
    "path.simplify": True,
}
GREY = "0.55"
LIGHT = "0.85"


class Canvas:
    """One figure and the SVG it becomes; ``svg`` is empty until the ``with`` block ends."""

    def __init__(self, figure: Figure, axes: list[Axes]) -> None:
        self.figure = figure
        self.axes = axes
        self.svg = ""


@contextmanager
def canvas(
    columns: int = 1, rows: int = 1, *, width: float = 7.2, height: float = 3.4
) -> Iterator[Canvas]:
    """Give a figure with ``rows * columns`` plots, sizes in inches; its SVG is made at the end."""
    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(width, height), layout="constrained")
        axes = figure.subplots(rows, columns, squeeze=False)
        made = Canvas(figure, [axis for row in axes for axis in row])
        yield made
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
        made.svg = re.sub(r"^.*?(?=<svg)", "", text.getvalue(), count=1, flags=re.DOTALL)


def interval_rows(axis: Axes, rows: list[tuple[str, float, float, float]], label: str) -> None:
    """Estimates with intervals, one below the other: name, estimate, low, high."""
    for i, (_, estimate, low, high) in enumerate(rows):
        axis.plot([low, high], [i, i], color="black")
        axis.plot(estimate, i, "s", color="black", markersize=6)
    axis.axvline(0, color=GREY, linewidth=0.8, linestyle=":")
    axis.set_yticks(range(len(rows)), [name for name, *_ in rows])
    axis.set_ylim(len(rows) - 0.5, -0.5)
    axis.set_xlabel(label)


def spread_over(count: int) -> np.ndarray:
    """Shades from dark to light grey for ``count`` pitchers, all visible on white paper."""
    return np.linspace(0.15, 0.65, count)
