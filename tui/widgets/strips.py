"""Small running plots: the last seconds of load, of the feed's rate and of its latency."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tui.widgets.braille import dot_rows
from tui.widgets.rows import RowsWidget, that_fit


@dataclass(frozen=True, eq=False)
class Running:
    """One running plot: heading, values (newest last, NaN missing), the range shown, its colour.

    Of the heading's parts as many are shown as fit.
    """

    head: tuple[str, ...]
    values: Sequence[float]
    low: float
    high: float
    style: str


def area_mask(
    values: Sequence[float], columns: int, rows: int, low: float, high: float
) -> npt.NDArray[np.bool_]:
    """Return dots (rows * 4, columns * 2) of the area under ``values``, newest at the right."""
    width, height = columns * 2, rows * 4
    given = np.asarray(values, dtype=float)
    if given.size < 2:
        return np.zeros((height, width), dtype=bool)
    # The nearest value, not an interpolated one: a missing value stays missing.
    nearest = np.rint(np.linspace(0, given.size - 1, width)).astype(int)
    share = (given[nearest] - low) / (high - low)
    known = np.isfinite(share)
    # The lowest dot is the ground. A quarter of a dot more lifts a third of the height above it
    # where there are but four, and leaves the middle, where a rate trembles, on one dot.
    level = np.rint(np.nan_to_num(share) * height + 0.25)
    level = np.where(known, np.clip(level, 1, height), 0)
    from_bottom = np.arange(height, 0, -1)[:, None]
    return np.asarray(from_bottom <= level[None, :])


class RunningPlots(RowsWidget):
    """Draws :class:`Running` plots one under another, sharing the height."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "strip--quiet",
        "strip--drive",
        "strip--lead",
    }
    DEFAULT_CSS = """
    RunningPlots {
        & > .strip--quiet { color: $quiet; }
        & > .strip--drive { color: $drive; }
        & > .strip--lead { color: $lead; }
    }
    """

    def __init__(self, id: str) -> None:
        super().__init__(id)
        self._plots: Sequence[Running] = ()

    def show(self, plots: Sequence[Running]) -> None:
        """Draw other plots."""
        self._plots = plots
        self.draw()

    def draw(self) -> None:
        """Draw the plots."""
        plots, (width, height) = self._plots, self.size
        if not plots or width < 10 or height < 2 * len(plots):
            return
        rows = height // len(plots) - 1
        out: list[Strip] = []
        for plot in plots:
            out.append(Strip([Segment(that_fit(plot.head, width, ", "), self._style("quiet"))]))
            mask = area_mask(plot.values, width, rows, plot.low, plot.high)
            out += [Strip([Segment(t, self._style(plot.style))], width) for t in dot_rows(mask)]
        self.put(out)

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"strip--{name}")
