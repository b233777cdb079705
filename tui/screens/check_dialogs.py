"""The set-up check's dialogs: what is checked with, and whether to end one that is not done."""

from __future__ import annotations

from collections.abc import Sequence
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

MASS = "known mass"
SPOT_X = "spot x, forward"
SPOT_Y = "spot y, towards first base"
_LABELS = {"mass": MASS, "x": SPOT_X, "y": SPOT_Y}
_EXAMPLES = {
    "mass": "Type for example 20 kg or 45 lb; empty to check without.",
    "x": "Type for example 0.5 m or 1.6 ft.",
    "y": "Type for example 0.3 m or 1 ft.",
}


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
        """Four fields, from where the spot is measured, and the caution."""
        usual, units = self._usual, self._units
        at = (None, None) if usual.at_m is None else usual.at_m
        mass = "" if usual.mass_kg is None else units.number("kg", usual.mass_kg, 1)
        x, y = ("" if v is None else units.number("m", v) for v in at)
        metres = units.name("m")
        for name, label, value, hint in (
            ("mass", f"{MASS}, {units.name('kg')}", mass, "empty: none"),
            ("x", f"{SPOT_X}, {metres}", x, "forward"),
            ("y", f"{SPOT_Y}, {metres}", y, "towards first base"),
            ("by", "checked by", usual.by, "initials"),
        ):
            with Horizontal(classes="field"):
                yield Label(label, markup=False)
                yield Input(value, placeholder=hint, id=name, max_length=MAX_TEXT, compact=True)
        yield Static(
            "x: forward, towards home, from the front edge of the rubber. y: towards first base "
            "from its middle (minus: towards third). Measure it out and mark it. 20 kg (45 lb) or "
            f"more tell best; the person's weight comes last and can be skipped. {CAUTION}",
            markup=False,
            classes="caution",
        )

    def action_begin(self) -> None:
        """Take what was typed, once every field has taken the keys pressed before."""
        self._after(list(self.query(Input)))

    def _after(self, fields: Sequence[Input]) -> None:
        """Begin after ``fields`` have worked off what waits for them."""
        if fields:
            fields[0].call_later(self._after, fields[1:])
        elif self.is_current:
            self._begin()

    def _begin(self) -> None:
        units = self._units
        text = {box.id: box.value.strip() for box in self.query(Input)}
        by = plain(text["by"], MAX_TEXT)
        if not text["mass"]:
            self.dismiss(CheckWith(None, None, by))
            return
        mass = self._number("mass", "kg")
        if mass is None:
            return
        if not 0.0 < mass <= MAX_MASS_KG:
            most = units.quantity("kg", MAX_MASS_KG)
            self._wrong("mass", f"{MASS}: lies between 0 and {most}.")
            return
        at: tuple[float, float] | None = None
        if text["x"] or text["y"]:
            x, y = self._number("x", "m"), self._number("y", "m")
            if x is None or y is None:
                return
            at = (x, y)
        self.dismiss(CheckWith(mass, at, by))

    def _number(self, name: str, unit: str) -> float | None:
        """Read a field; say what is wrong with it and return None if it is no number."""
        typed = self.query_one(f"#{name}", Input).value.strip()
        try:
            return self._units.read(unit, typed)
        except ValueError:
            seen = f"{plain(typed, 20)!r} is no number" if typed else "is empty"
            self._wrong(name, f"{_LABELS[name]}: {seen}. {_EXAMPLES[name]}")
            return None

    def _wrong(self, name: str, text: str) -> None:
        """Say what is wrong, and go to the field."""
        self.say_wrong(text)
        self.query_one(f"#{name}", Input).focus()


class EndCheckDialog(Dialog[bool]):
    """Asks before a check that is not done is dropped."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("e", "end", "End it")]

    def __init__(self) -> None:
        super().__init__("The set-up check is not done", "e: end it", "go on with the check")

    def compose_question(self) -> ComposeResult:
        """Say what ending it means."""
        yield Static(
            "If it ends now nothing of it is kept: the zero and the last result stay as they were.",
            markup=False,
        )

    def action_end(self) -> None:
        """Drop the check."""
        self.dismiss(True)
