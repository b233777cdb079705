"""The operator's screen: the deck to scale with its load, the feed's plots and facts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll

from stream.layout import Layout
from stream.snapshot import Snapshot
from tui.board import Pulled
from tui.facts import check_lines, facts, to_read
from tui.screens.base import EVERYTHING, MoundScreen
from tui.units import Units
from tui.widgets.deck_plan import DeckPlan
from tui.widgets.line_text import LineText, Runs
from tui.widgets.strips import Running, RunningPlots

_LEAST_FULL_N = 2000.0
_LEAST_LATENCY_MS = 20.0


class DeckScreen(MoundScreen):
    """Shows what the mound is doing now."""

    def __init__(self, layout: Layout | None, check: Mapping[str, Any] | None) -> None:
        super().__init__()
        self._layout = layout
        self._check = check
        self._plan = DeckPlan("plan", layout)
        self._load = RunningPlots("load")
        self._health = RunningPlots("health")
        self._todo = LineText("todo")
        self._facts = LineText("facts")

    def compose_body(self) -> ComposeResult:
        """Plan and plots at the left, facts at the right."""
        with Horizontal(id="deck"):
            with Vertical(id="seen"):
                yield self._plan
                yield self._load
                yield self._health
            with VerticalScroll(id="told"):
                yield self._todo
                yield self._facts

    def on_mount(self) -> None:
        """Write the facts twice a second."""
        self.set_interval(0.5, self._write)

    def redraw_body(self, pulled: Pulled) -> None:
        """Draw the deck of now; words and the feed's plots too where all is drawn."""
        snapshot, units = self.mound.board.snapshot, self.mound.units
        if pulled.snapshot and snapshot is not None:
            self._plan.show(snapshot.platforms, units)
            self._load.show(_load_plots(snapshot, units))
        if pulled == EVERYTHING:
            self._write()

    def _write(self) -> None:
        """Write sentences, facts and the feed's plots: nobody reads them ten times a second."""
        if not self.is_current:
            return
        snapshot, units = self.mound.board.snapshot, self.mound.units
        _fill(self._todo, to_read(self.mound.board.sentences, self._todo.size.width))
        done = check_lines(self._check, self._facts.size.width)
        may_act = self.mound.board.link.may_act
        _fill(self._facts, [*facts(snapshot, self._layout, units, may_act), *done])
        if snapshot is not None:
            self._health.show(self._health_plots(snapshot, units))

    def _health_plots(self, snapshot: Snapshot, units: Units) -> list[Running]:
        history = self.mound.board.history
        nominal = snapshot.feed.nominal_rate_hz or 200.0
        worst = max([_LEAST_LATENCY_MS, *(v for v in history.latency_ms if math.isfinite(v))])
        lost = max([10.0, *(v for v in history.lost if math.isfinite(v))])
        now = units.quantity("Hz", snapshot.feed.rate_hz)
        latency = units.quantity("ms", snapshot.feed.latency_ms)
        return [
            Running(
                (f"rate {now}", "last 2 min"),
                history.rate_hz,
                0.9 * nominal,
                1.1 * nominal,
                "quiet",
            ),
            Running(
                (f"latency {latency}", f"full height {worst:.0f} ms"),
                history.latency_ms,
                0,
                worst,
                "quiet",
            ),
            Running(
                ("lost frames a second", f"full height {lost:.0f}"), history.lost, 0, lost, "lead"
            ),
        ]


def _fill(widget: LineText, lines: list[Runs]) -> None:
    """Show ``lines`` and make the widget as high as they are many."""
    if widget.size.height != len(lines):
        widget.styles.height = len(lines)
    widget.show(lines)


def _load_plots(snapshot: Snapshot, units: Units) -> list[Running]:
    strip = snapshot.strip
    full = 3.0 * (snapshot.body_weight_n or 0.0) or _LEAST_FULL_N
    seconds = f"{strip.step_s * len(strip.drive):.0f} s"
    scale = units.quantity("N", full)
    return [
        Running(
            ("push-off side", f"last {seconds}", f"full height {scale}", "vertical force"),
            strip.drive,
            0.0,
            full,
            "drive",
        ),
        Running(("landing side", "the same scale"), strip.lead, 0.0, full, "lead"),
    ]
