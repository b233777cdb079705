"""The set-up check's dialogs: what is checked with, and whether to end one that is not done."""

from __future__ import annotations

import math
from typing import ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Input, Label, Static

from stream.actions import MAX_MASS_KG, MAX_TEXT
from tui.check_words import CAUTION
from tui.safe_text import plain
from tui.screens.dialogs import Dialog
from tui.units import Units


class CheckWith(NamedTuple):
    """What a set-up check is made with: known mass, kg, its spot (x, y) m, and by whom."""

    mass_kg: float | None
    at_m: tuple[float, float] | None
    by: str


class CheckDialog(Dialog[CheckWith]):
    """Asks for the known mass, its spot and who checks; ``usual`` is what stands there at first."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin", priority=True),
        Binding("up", "app.focus_previous", show=False, priority=True),
        Binding("down", "app.focus_next", show=False, priority=True),
    ]

    def __init__(self, usual: CheckWith, units: Units) -> None:
        super().__init__("Set-up check", "Enter: begin   ↑↓: next field")
        self._usual = usual
        self._units = units

    def compose_question(self) -> ComposeResult:
        """Four fields and the caution."""
        usual, units = self._usual, self._units
        at = (None, None) if usual.at_m is None else usual.at_m
        mass = "" if usual.mass_kg is None else units.number("kg", usual.mass_kg, 2)
        x, y = ("" if v is None else units.number("m", v) for v in at)
        metres = units.name("m")
        for name, label, value, hint in (
            ("mass", f"known mass, {units.name('kg')}", mass, "empty: no known mass"),
            ("x", f"its spot, x towards home, {metres}", x, "from the rubber's front edge"),
            ("y", f"y to the left (first base), {metres}", y, "from the middle"),
            ("by", "checked by", usual.by, "initials"),
        ):
            with Horizontal(classes="field"):
                yield Label(label, markup=False)
                yield Input(value, placeholder=hint, id=name, max_length=MAX_TEXT, compact=True)
        yield Static(
            "Measure the spot out and mark it. 20 kg (45 lb) or more tell best; the person's own "
            f"weight comes last and can be skipped. {CAUTION}",
            markup=False,
            classes="caution",
        )

    def action_begin(self) -> None:
        """Take what was typed."""
        units = self._units
        text = {box.id: box.value.strip() for box in self.query(Input)}
        by = plain(text["by"], MAX_TEXT)
        if not text["mass"]:
            self.dismiss(CheckWith(None, None, by))
            return
        at: tuple[float, float] | None = None
        try:
            mass = units.read("kg", text["mass"])
            if text["x"] or text["y"]:
                at = (units.read("m", text["x"]), units.read("m", text["y"]))
        except ValueError:
            self.say_wrong("Mass and spot are numbers; leave the mass empty to check without.")
            return
        if not 0.0 < mass <= MAX_MASS_KG or not all(map(math.isfinite, at or ())):
            most = units.quantity("kg", MAX_MASS_KG)
            self.say_wrong(f"A known mass lies between 0 and {most}.")
            return
        self.dismiss(CheckWith(mass, at, by))


class EndCheckDialog(Dialog[bool]):
    """Asks before a check that is not done is dropped."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("e", "end", "End it")]

    def __init__(self) -> None:
        super().__init__("The set-up check is not done", "e: end it   Esc: go on with it")
        self._hint = "e: end it"

    def compose_question(self) -> ComposeResult:
        """Say what ending it means."""
        yield Static(
            "If it ends now nothing of it is kept: the zero and the last result stay as they were.",
            markup=False,
        )

    def action_end(self) -> None:
        """Drop the check."""
        self.dismiss(True)
