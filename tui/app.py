"""The terminal screen: pulls from the link on its own timer and does what the keys say."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import ClassVar

from textual.app import SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

from stream.layout import Layout
from stream.monitor.view import Link
from stream.roster import Roster
from tui import palette, present
from tui.checking import Checking
from tui.notices import DEMO_NOTICE
from tui.screens.base import EVERYTHING, MoundScreen
from tui.screens.check import CheckScreen
from tui.screens.deck import DeckScreen
from tui.screens.dialogs import LeaveDialog
from tui.screens.help import CHECK_KEYS, CHECK_PARTS, HelpScreen
from tui.screens.pitch import PitchScreen
from tui.units import Units
from tui.widgets.line_text import Runs

PULLS_PER_S = 10.0
#: What has no place on the set-up check's screen, whose own keys stand there.
_NOT_IN_A_CHECK = (
    "pitcher",
    "speed",
    "void",
    "undo",
    "note",
    "assign",
    "zero",
    "other_screen",
    "component",
    "check",
)
#: Classes of the layout by the terminal's rows and columns, see app.tcss.
_HEIGHTS = [(0, "-short"), (32, "-medium"), (50, "-tall")]
_WIDTHS = [(0, "-narrow"), (110, "-wide"), (160, "-broad")]


class MoundfeedApp(Checking):
    """Screens over a :class:`stream.monitor.view.Link`.

    ``clock`` stamps actions, ns; ``notice`` stands in the feed line. Who
    ``owns_monitor`` is asked on leaving whether it goes on: ``end_monitor``.
    """

    TITLE = "moundfeed"
    CSS_PATH = "app.tcss"
    VERTICAL_BREAKPOINTS = _HEIGHTS
    HORIZONTAL_BREAKPOINTS = _WIDTHS
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("p", "pitcher", "Pitcher"),
        Binding("s", "speed", "Speed"),
        Binding("v", "void", "Void"),
        Binding("u", "undo", "Undo"),
        Binding("n", "note", "Note"),
        Binding("d", "other_screen", "Deck"),
        Binding("k", "check", "Check"),
        Binding("c", "component", "Curves"),
        Binding("question_mark", "help", "Help", key_display="?"),
        Binding("q", "leave", "Quit"),
        Binding("ctrl+q", "leave", "Quit", show=False, priority=True),
        Binding("a", "assign", "Assign the pitch to another pitcher", show=False),
        Binding("z", "zero", "Take the zero", show=False),
        Binding("t", "units", "SI or US units", show=False),
        Binding("l", "look", "Light or dark", show=False),
    ]

    def __init__(
        self,
        link: Link,
        layout: Layout | None = None,
        roster: Roster = Roster(),  # noqa: B008 - frozen
        units: Units = Units(),  # noqa: B008 - frozen
        look: str = "dark",
        clock: Callable[[], int] = time.time_ns,
        notice: str = "",
        owns_monitor: bool = False,
    ) -> None:
        super().__init__(link, roster, units, clock)
        self.layout = layout
        self.notice = notice
        self.end_monitor = False
        self._owns_monitor = owns_monitor
        palette.put_on(self, look)

    async def on_mount(self) -> None:
        """Put up the coach's screen and start the timer."""
        self.install_screen(PitchScreen(), "pitch")
        self.install_screen(DeckScreen(self.layout), "deck")
        self.board.pull()
        await self.push_screen("pitch")
        self.set_interval(1.0 / PULLS_PER_S, self.pull)
        self.set_interval(1.0, self.remember)

    def remember(self) -> None:
        """Keep the feed's state of this second for its plots."""
        self.board.history.remember(self.board.snapshot)

    def feed_line(self, width: int) -> Runs:
        """Return the line at the top: the state of the feed."""
        return present.feed_line(self.board, self.units, width, self.notice)

    def pull(self) -> None:
        """Take what the link knows and draw what changed."""
        pulled = self.board.pull()
        if self.notice == DEMO_NOTICE:
            self.board.wait_calmly()
        screen = self._main_screen
        if screen is not None:
            screen.redraw(pulled)

    @property
    def _main_screen(self) -> MoundScreen | None:
        return next((s for s in reversed(self.screen_stack) if isinstance(s, MoundScreen)), None)

    def _redraw(self) -> None:
        screen = self._main_screen
        if screen is not None:
            screen.redraw(EVERYTHING)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Tell whether ``action`` makes sense on the present screen."""
        if action in _NOT_IN_A_CHECK and self.screen_stack:
            return not isinstance(self._main_screen, CheckScreen)
        return super().check_action(action, parameters)

    def action_leave(self) -> None:
        """Leave the screen; ask about a check that is not done, and whether recording goes on."""
        if isinstance(self.screen, CheckScreen) and self.check_open:
            self.action_check_leave(then=self._ask_to_leave)
        else:
            self._ask_to_leave()

    def _ask_to_leave(self) -> None:
        if not self._owns_monitor or self.board.link.lost:
            self.exit()
        elif not isinstance(self.screen, LeaveDialog):
            self.push_screen(LeaveDialog(), self._left)

    def _left(self, end_monitor: bool | None) -> None:
        if end_monitor is not None:
            self.end_monitor = end_monitor
            self.exit()

    def action_other_screen(self) -> None:
        """Change between the coach's and the operator's screen."""
        main = self._main_screen
        if main is self.screen:
            self.switch_screen("deck" if isinstance(main, PitchScreen) else "pitch")

    def action_component(self) -> None:
        """Draw the next component of the force."""
        if isinstance(self.screen, PitchScreen):
            self.screen.next_component()

    def action_units(self) -> None:
        """Change between SI and US units."""
        self.units = self.units.other()
        self._redraw()

    def action_look(self) -> None:
        """Change between light and dark."""
        palette.turn(self)
        self._redraw()

    def action_help(self) -> None:
        """Show the help."""
        if isinstance(self.screen, HelpScreen):
            return
        if isinstance(self._main_screen, CheckScreen):
            self.push_screen(HelpScreen(CHECK_KEYS, CHECK_PARTS))
        else:
            keys = [
                (b.key_display or b.key, b.description)
                for b in self.BINDINGS
                if isinstance(b, Binding) and b.key != "ctrl+q"
            ]
            keys += [("↑ ↓", "Earlier and later pitches"), ("home", "Back to the newest pitch")]
            self.push_screen(HelpScreen([*keys, ("ctrl+p", "All commands by name")]))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Return every action by name, for the command palette."""
        for binding in self.BINDINGS:
            if isinstance(binding, Binding) and binding.key != "ctrl+q":
                run = getattr(self, f"action_{binding.action}")
                text = (run.__doc__ or "").strip()
                yield SystemCommand(binding.description, text, run)
