"""Help: what the screens show, what the signs mean, every key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from analysis.baseline import APART, COMPARE_FROM, EDGE, OWN_SPREAD_FROM
from tui.check_words import CAUTION
from tui.widgets.deck_plan import RUBBER_SIGN

#: Headings and what stands below them.
_PARTS = (
    (
        "THE PITCH",
        "✓ counted: a delivery with push-off, flight and landing was measured. ✖ not counted, or "
        "void: the line under the numbers says why. Push-off and landing are the greatest whole "
        "force of each leg, in percent of body weight. Body weight is measured in the set "
        "position of each pitch. ≈ an estimate.",
    ),
    (
        "LIKE THE OTHERS?",
        "A pitch is compared with the same pitcher's earlier ones of this session, void ones left "
        'out. "Usual" is their median.\n'
        f"=  usual    within {EDGE:g} spreads of it\n"
        f"~  edge     {EDGE:g} to {APART:g} spreads away: the line below the number stands out\n"
        f"≠  unlike   {APART:g} spreads or more: the whole number stands out\n"
        f"·  few      fewer than {COMPARE_FROM} earlier pitches: nothing is said\n"
        f"The spread is the pitcher's own from {OWN_SPREAD_FROM} earlier pitches on; before that, "
        "the typical error published for pitches within one session. It describes a movement. It "
        "is no judgement on health and no advice: decisions on workload and injury belong to "
        "licensed staff.",
    ),
    (
        "THE CURVES",
        "A line: the push-off leg. A line over dots: the landing leg. Upright lines: the events, "
        "named below. Time runs from foot contact.",
    ),
    (
        "THE DECK",
        "Seen from above, to scale, home plate to the right. ✚ centre of pressure. "
        f"{RUBBER_SIGN * 2} the rubber.",
    ),
    ("THE FEED LINE", "● live   ○ nothing yet   ■ stopped   ✖ the monitor is gone"),
)

#: The keys of the set-up check's screen and what is said of it.
CHECK_KEYS = (
    ("enter", "Take the load as it stands, at once"),
    ("s", "Skip this step; what needs it is not run"),
    ("b", "Back a step; after the end, to the first step that failed"),
    ("n", "New check, from the first step"),
    ("esc", "Leave; asks first if the check is not done"),
    ("↑ ↓", "Scroll the results"),
    ("t", "SI or US units"),
    ("l", "Light or dark"),
    ("?", "This help"),
    ("q", "Quit; asks first if the check is not done"),
)
CHECK_PARTS = (
    (
        "THE STEPS",
        "Step off the deck: the zero is taken. Put the known mass on the marked spot, ◎ on the "
        "plan: weight, signs and place. Stand on: body weight. A step is taken by itself when its "
        'load has stood still long enough; "still" under the step is how far that is. The feed is '
        "judged all the while.",
    ),
    (
        "THE RESULTS",
        "✓  pass     as it should be\n"
        "!  WARN     you can throw; read what it says\n"
        "✖  FAIL     put it right first, then b does that step again\n"
        "·  not run  its step was not done, so nothing is known\n"
        "\N{EN DASH}  skipped  a step that was left out\n"
        "A step has the sign of its worst result. When the check is done, result and zero are in "
        "force; a check that is left before changes nothing.",
    ),
    (
        "THE SPOT",
        "x is forward, towards home, from the front edge of the rubber; y is towards first base "
        f"from its middle. {CAUTION}",
    ),
)


_KEY_NAMES = {"left": "←", "right": "→", "up": "↑", "down": "↓", "escape": "Esc", "esc": "Esc"}


def key_name(key: str) -> str:
    """Return a key as the pages and the dialogs write it: Esc, Enter, ←, Ctrl+P."""
    if len(key) < 2:
        return key
    *held, last = key.split("+")
    last = _KEY_NAMES.get(last, last.title() if held or last in ("enter", "home") else last)
    return "+".join([*(h.title() for h in held), last])


class HelpScreen(ModalScreen[None]):
    """Shows the help; any of the usual keys closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q,enter", "leave", "Close")
    ]

    def __init__(
        self, keys: Sequence[tuple[str, str]], parts: Sequence[tuple[str, str]] = _PARTS
    ) -> None:
        super().__init__()
        self._keys = keys
        self._parts = parts

    def compose(self) -> ComposeResult:
        """Text that scrolls."""
        with VerticalScroll(id="help"):
            yield Static("KEYS", classes="head first", markup=False)
            keys = [(key_name(key), what) for key, what in self._keys]
            wide = max(8, *(len(key) for key, _ in keys))
            lines = "\n".join(f"{key:<{wide}} {what}" for key, what in keys)
            yield Static(lines, markup=False)
            for head, text in self._parts:
                yield Static(head, classes="head", markup=False)
                yield Static(text, markup=False)

    def action_leave(self) -> None:
        """Close the help."""
        self.dismiss(None)
