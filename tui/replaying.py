"""The coach's and the operator's screen over a recording: the same pictures, keys of a player."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.screen import ModalScreen

from stream.layout import Layout
from stream.monitor.playback import Playback, Seek
from stream.roster import Roster
from stream.wire import NS
from tui import replay_words
from tui.board import FeedHistory
from tui.looking import LOOKING, LookingApp
from tui.screens.jump import JumpDialog
from tui.units import Units
from tui.widgets.line_text import Runs

_BACK_NS = 10 * NS
_PLAYER = {"pause", "next_pitch", "next_event", "rewind", "jump", "slower", "faster"}


class ReplayApp(LookingApp, inherit_bindings=False):
    """A screen over a :class:`Playback`, which somebody else keeps running."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "pause", "Pause", priority=True),
        Binding("right", "next_pitch", "Next pitch", key_display="→", priority=True),
        Binding("e", "next_event", "Next event"),
        Binding("j", "jump", "Jump"),
        Binding("minus", "slower", "Slow", key_display="-"),
        Binding("plus,equals_sign", "faster", "Fast", key_display="+"),
        Binding("left", "rewind", "Back 10 s", key_display="←", priority=True, show=False),
        Binding("d", "other_screen", "Deck"),
        Binding("c", "component", "Curves", show=False),
        *(b for b in LOOKING if b.key not in "dc"),
    ]

    def __init__(
        self, playback: Playback, layout: Layout, roster: Roster, units: Units, look: str
    ) -> None:
        super().__init__(playback.link, layout, roster, units, look)
        self.playback = playback
        self._second = 0

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the player's keys to a dialog or the help while one is up."""
        if action in _PLAYER and self.screen_stack and isinstance(self.screen, ModalScreen):
            return False
        return super().check_action(action, parameters)

    def feed_line(self, width: int) -> Runs:
        """Return the line at the top: that this is a replay, and where it stands."""
        return replay_words.replay_line(self.playback, self.board.snapshot, self.units, width)

    def remember(self) -> None:
        """Leave it to :meth:`pull`: the feed's plots go by the recording's seconds."""

    def pull(self) -> None:
        """Take what the playback has shown and draw what changed."""
        super().pull()
        if self.playback.seeking is not None:
            return  # what is passed over on the way is not looked at, however slow the way is
        second = self.playback.place_ns // NS
        if second < self._second:
            self.board.history = FeedHistory()
        elif second > self._second:
            self.board.history.skip(second - self._second - 1)
            self.board.history.remember(self.board.snapshot)
        self._second = second

    def action_pause(self) -> None:
        """Stand still, or go on."""
        self.playback.pause(not self.playback.paused)

    def action_next_pitch(self) -> None:
        """Go to the next pitch, or movement that was not counted, and stand there."""
        self.playback.step(Seek.PITCH)

    def action_next_event(self) -> None:
        """Go to whatever happens next (a foot contact, a gap, ...) and stand there."""
        self.playback.step(Seek.EVENT)

    def action_rewind(self) -> None:
        """Go back 10 seconds."""
        self.playback.jump(self.playback.place_ns - _BACK_NS)

    def action_jump(self) -> None:
        """Ask for a time in the recording and go there."""
        ask = JumpDialog(self.playback.place_ns, self.playback.length_ns)
        self.push_screen(ask, self._jump)

    def action_slower(self) -> None:
        """Play slower."""
        self.playback.change_speed(-1)

    def action_faster(self) -> None:
        """Play faster."""
        self.playback.change_speed(1)

    def _jump(self, to_ns: int | None) -> None:
        if to_ns is not None:
            self.playback.jump(to_ns)
