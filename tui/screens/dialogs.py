"""Small dialogs: who throws, ball speed, void, note, zero. Enter takes, Escape leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from stream.actions import MAX_CODE, MAX_TEXT
from stream.roster import Roster
from stream.wire import MAX_SPEED_MPS
from tui.safe_text import plain
from tui.units import Units

T = TypeVar("T")
VOID_REASONS = (
    "broke off the delivery",
    "warm-up, not a full effort",
    "foot off the plates",
    "somebody touched the deck",
)


class Dialog(ModalScreen[T | None]):
    """A question over the screen; None means that nothing was answered."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Leave")]

    def __init__(self, title: str, hint: str, leave: str = "leave it") -> None:
        super().__init__()
        self._title = title
        self._hint = f"{hint}   Esc: {leave}"

    def compose(self) -> ComposeResult:
        """Title, question, what the keys do, what was wrong."""
        with Vertical(id="dialog"):
            yield Static(self._title, id="title", markup=False)
            yield from self.compose_question()
            yield Static("", id="wrong", markup=False)
            yield Static(self._hint, id="hint", markup=False)

    def compose_question(self) -> ComposeResult:
        """Lay out the question."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Take away what was told, so that it covers no part of the question."""
        self.app.clear_notifications()

    def say_wrong(self, text: str) -> None:
        """Say what is wrong with the answer."""
        self.query_one("#wrong", Static).update(text)

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.dismiss(None)


class Choice(Dialog[str]):
    """Choose from a list, or type: typing narrows the list and may be an answer of its own."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", show=False, priority=True),
        Binding("up", "move(-1)", show=False, priority=True),
    ]

    def __init__(
        self,
        title: str,
        options: Sequence[tuple[str, str]],
        typed: str,
        most: int,
        current: str | None = None,
        care: str = "",
    ) -> None:
        super().__init__(title, "Enter: take it   ↑↓: choose")
        self._care = care
        self._options = options
        self._typed = typed
        self._most = most
        self._current = current

    def compose_question(self) -> ComposeResult:
        """An input above a list, and what else could be meant."""
        yield Input(placeholder=self._typed, max_length=self._most)
        yield OptionList(markup=False)
        if self._care:
            yield Static(self._care, classes="caution", markup=False)

    def on_mount(self) -> None:
        """Fill the list."""
        self._fill("")
        self.query_one(Input).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Narrow the list."""
        self._fill(event.value)

    def on_input_submitted(self) -> None:
        """Take what is marked in the list."""
        options = self.query_one(OptionList)
        if options.highlighted is not None:
            self._take(options.get_option_at_index(options.highlighted))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take what was clicked."""
        self._take(event.option)

    def action_move(self, step: int) -> None:
        """Move the mark."""
        options = self.query_one(OptionList)
        if step > 0:
            options.action_cursor_down()
        else:
            options.action_cursor_up()

    def _take(self, option: Option) -> None:
        self.dismiss((option.id or "")[1:])

    def _fill(self, typed: str) -> None:
        wanted = typed.strip().casefold()
        options = self.query_one(OptionList)
        options.clear_options()
        shown = [(v, t) for v, t in self._options if wanted in t.casefold()]
        # An option's id may not be empty, hence the letter before the answer.
        options.add_options([Option(Content(t), id=f"={v}") for v, t in shown])
        exact = any(v.casefold() == wanted for v, _ in self._options)
        if wanted and not exact:
            text = plain(typed.strip(), self._most)
            options.add_option(Option(Content(f"as typed: {text}"), id=f"={text}"))
        if options.option_count:
            values = [v for v, _ in shown]
            at = values.index(self._current) if self._current in values else 0
            options.highlighted = at


def pitcher_choice(title: str, roster: Roster, current: str) -> Choice:
    """Return the dialog that asks for a pitcher."""
    options = [(p.code, _pitcher_line(p.code, p.throws, p.name)) for p in roster]
    typed = "type to find a pitcher, or a new code" if options else "no roster: type a code"
    return Choice(title, [*options, ("", "nobody named")], typed, MAX_CODE, current)


def void_choice(number: int) -> Choice:
    """Return the dialog that asks why a pitch is void."""
    options = [(reason, reason) for reason in VOID_REASONS]
    return Choice(
        f"Void pitch {number}: why?",
        options,
        "type another reason",
        MAX_TEXT,
        care="Thrown by somebody else? Esc, then a: it stays a good pitch.",
    )


def _pitcher_line(code: str, throws: str | None, name: str | None) -> str:
    hand = {"R": "right-handed", "L": "left-handed"}.get(throws or "", "hand not known")
    return "  ".join(filter(None, (plain(code, 32), hand, plain(name or "", 60))))


class SpeedDialog(Dialog[float]):
    """Asks for a ball speed; answers in m/s, 0.0 takes it back."""

    def __init__(self, number: int, current: float | None, units: Units) -> None:
        super().__init__(
            f"Ball speed of pitch {number}, {units.name('ball')}",
            "Enter: take it   empty: take it back",
        )
        self._current = current
        self._units = units

    def compose_question(self) -> ComposeResult:
        """A number."""
        text = "" if self._current is None else self._units.number("ball", self._current)
        yield Input(text, placeholder=f"for example {self._units.number('ball', 36.2)}")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Read the number."""
        if not event.value.strip():
            self.dismiss(0.0)
            return
        try:
            speed = self._units.read("ball", event.value)
        except ValueError:
            self.say_wrong(f"{plain(event.value, 20)!r} is not a number.")
            return
        if 0.0 < speed <= MAX_SPEED_MPS:
            self.dismiss(speed)
        else:
            most = self._units.quantity("ball", MAX_SPEED_MPS)
            self.say_wrong(f"A ball speed lies between 0 and {most}.")


class NoteDialog(Dialog[str]):
    """Asks for a note."""

    def __init__(self, number: int, current: str) -> None:
        super().__init__(f"Note on pitch {number}", "Enter: keep it   empty: remove it")
        self._current = current

    def compose_question(self) -> ComposeResult:
        """A line of text."""
        yield Input(self._current, placeholder="what should be remembered", max_length=MAX_TEXT)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the text."""
        self.dismiss(plain(event.value.strip(), MAX_TEXT))


class ZeroDialog(Dialog[bool]):
    """Asks before the zero is taken."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "take", "Take it")]

    def __init__(self) -> None:
        super().__init__("Take the zero", "Enter: the deck is empty, take it")

    def compose_question(self) -> ComposeResult:
        """Say what has to be so."""
        yield Static(
            "Everybody off the deck, nothing lying on it. The zero is the mean of the next "
            "quiet second.",
            markup=False,
        )

    def action_take(self) -> None:
        """The deck is empty."""
        self.dismiss(True)


class LeaveDialog(Dialog[bool]):
    """Asks whether the monitor ends with the screen."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("e", "end", "End the session"),
        Binding("k", "keep", "Keep recording"),
    ]

    def __init__(self) -> None:
        super().__init__("Leave the screen", "e: end the session   k: keep recording")

    def compose_question(self) -> ComposeResult:
        """Say what either does."""
        yield Static(
            "The monitor that receives and records is a process of its own. It can end now, or "
            "go on without a screen until you come back with the same --session.",
            markup=False,
        )

    def action_end(self) -> None:
        """The monitor ends too."""
        self.dismiss(True)

    def action_keep(self) -> None:
        """The monitor goes on."""
        self.dismiss(False)
