"""The study bench on a screen: a question at the left, its answer at the right.

The answer is computed in a thread of its own, so that the screen stays alive;
what it shows is the page of ``analysis.study``, nothing is computed here.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import ClassVar, cast

import pandas as pd
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widget import Widget
from textual.widgets import Button, Input, Label, Select, Static
from textual.worker import Worker, WorkerState

from analysis.study import answers, pages, table
from analysis.study.answers import Answer
from analysis.study.results import StudyError, to_json
from stream.recording.durable import write_whole
from tui import palette
from tui.study.form import AnswerError, arguments, command
from tui.study.questions import QUESTIONS, Field, Kind, Question, Takes
from tui.study.saving import SaveDialog
from tui.study.table_text import TableText
from tui.study.ticks import TickList
from tui.telling import Telling
from tui.widgets.cloud import ShapePlot
from tui.widgets.key_line import KeyLine

_WELCOME = (
    "Choose a question and its columns at the left, then Answer (ctrl+r).\n\n"
    "A pitch is one row of the table; pitches of one pitcher belong together, so every question "
    "asks who threw.\n\n"
    "Nothing is filled in: rows with a missing value are left out, counted and listed.\n\n"
    "Descriptive statistics, not medical advice; decisions on workload and injury belong to "
    "licensed staff."
)
_WIDTHS = [(0, "-narrow"), (110, "-wide")]
#: The number of rows, the columns of numbers, those of names.
Columns = tuple[int, list[str], list[str]]
_ESTIMATES = "estimates"
_COUNT = "values marked as estimates count"
_QUESTION = "question"


class StudyApp(Telling):
    """Asks questions of ``tables`` (CSV, Parquet, session folders)."""

    TITLE = "moundfeed study"
    CSS_PATH = "study.tcss"
    HORIZONTAL_BREAKPOINTS = _WIDTHS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+r", "answer", "Answer", priority=True),
        Binding("ctrl+s", "save", "Save page and numbers", priority=True),
        Binding("ctrl+l", "look", "Light or dark", priority=True),
        Binding("f6", "other_side", "Question/answer", priority=True),
        Binding("ctrl+q", "quit", "Quit", priority=True),
    ]

    def __init__(self, tables: Sequence[Path], look: str = "dark") -> None:
        super().__init__()
        self._tables = tuple(tables)
        self._numbers: list[str] = []
        self._labels: list[str] = []
        self._question = QUESTIONS[0]
        self._asked: argparse.Namespace | None = None
        self._answer: Answer | None = None
        palette.put_on(self, look)

    def compose(self) -> ComposeResult:
        """Question at the left, answer at the right."""
        with Horizontal():
            with VerticalScroll(id="ask"):
                yield Label("Question", classes="name")
                yield Select(
                    [(f"{q.name}: {q.asks}", q.name) for q in QUESTIONS],
                    value=self._question.name,
                    allow_blank=False,
                    compact=True,
                    id=_QUESTION,
                )
                yield VerticalScroll(id="fields")
                yield Button("Answer", id="go")
            yield VerticalScroll(id="answer", can_focus=True)
        yield KeyLine()

    async def on_mount(self) -> None:
        """Read the columns."""
        self.query_one(f"#{_QUESTION}").focus()
        await self._say(f"Reading {', '.join(path.name for path in self._tables)} ...")
        self.run_worker(self._columns, thread=True, group="read", exit_on_error=False)

    # What is asked

    def _columns(self) -> Columns:
        """Read what columns there are."""
        frame = table.load(self._tables[:1] if len(self._tables) == 2 else self._tables)
        numeric = [
            str(c)
            for c in frame.columns
            if pd.api.types.is_numeric_dtype(frame[c]) and not pd.api.types.is_bool_dtype(frame[c])
        ]
        whole = [c for c in numeric if pd.api.types.is_integer_dtype(frame[c])]
        labels = [str(c) for c in frame.columns if str(c) not in numeric]
        # Of what is the same in every row nothing can be asked.
        return len(frame), [c for c in numeric if frame[c].nunique() > 1], labels + whole

    async def on_select_changed(self, event: Select.Changed) -> None:
        """Another question has other fields."""
        if event.select.id == _QUESTION:
            self._question = next(q for q in QUESTIONS if q.name == event.value)
            await self._lay_out_fields()

    async def _lay_out_fields(self) -> None:
        fields = self.query_one("#fields", VerticalScroll)
        await fields.remove_children()
        await fields.mount_all(self._widgets(self._question))

    def _widgets(self, question: Question) -> Iterable[Widget]:
        for field in question.fields:
            if field.kind is Kind.YES:
                yield _alone(TickList([field.help], [], id=field.name))
                continue
            yield Label(f"{field.label}: {field.help}", classes="name", markup=False)
            yield self._widget(field)
        if question.takes is Takes.TABLES:
            yield _alone(TickList([_COUNT], [_COUNT], id=_ESTIMATES))

    def _widget(self, field: Field) -> Widget:
        columns = self._of_kind(field.kind)
        likely = next((c for c in field.likely if c in columns), None)
        if field.choices:
            options = [(choice, choice) for choice in field.choices]
            return Select(
                options, value=field.choices[0], allow_blank=False, id=field.name, compact=True
            )
        if field.many:
            return TickList(columns, [likely] if likely else [], id=field.name)
        if columns:
            listed = [(c, c) for c in columns]
            if likely is None:
                return Select(
                    listed,
                    id=field.name,
                    prompt="choose a column" if field.required else "none",
                    compact=True,
                )
            return Select(listed, value=likely, id=field.name, compact=True)
        default = field.default
        shown = ",".join(map(str, default)) if isinstance(default, list) else default
        return Input(
            "" if shown is None else str(shown), placeholder=field.mark, id=field.name, compact=True
        )

    def _of_kind(self, kind: Kind) -> list[str]:
        match kind:
            case Kind.NUMBERS:
                return self._numbers
            case Kind.LABELS:
                return self._labels
            case Kind.COLUMN:
                return list(dict.fromkeys([*self._numbers, *self._labels]))
            case _:
                return []

    def _given(self) -> dict[str, object]:
        given: dict[str, object] = {}
        for widget in self.query_one("#fields").children:
            match widget:
                case TickList():
                    given[widget.id or ""] = widget.taken
                case Select():
                    given[widget.id or ""] = "" if widget.is_blank() else widget.value
                case Input():
                    given[widget.id or ""] = widget.value
                case _:
                    pass
        return given

    # What is answered

    def on_button_pressed(self) -> None:
        """The button answers."""
        self.action_answer()

    def action_answer(self) -> None:
        """Answer the question with what was chosen."""
        given = self._given()
        try:
            asked = arguments(
                self._question, self._tables, given, bool(given.get(_ESTIMATES, True))
            )
        except AnswerError as missing:
            self.tell(str(missing), severity="warning")
            return
        self._asked = asked
        name = self._question.name
        self.run_worker(
            lambda: answers.QUESTIONS[name](asked),
            thread=True,
            group="answer",
            exclusive=True,
            exit_on_error=False,
        )
        self.query_one("#answer").loading = True

    async def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show what a thread found, or why it could not."""
        worker = event.worker
        if worker.group not in ("read", "answer"):
            return
        if event.state is WorkerState.ERROR:
            self.query_one("#answer").loading = False
            if not isinstance(worker.error, StudyError):
                raise worker.error or RuntimeError(worker.name)
            await self._say(f"{str(worker.error)[:1].upper()}{str(worker.error)[1:]}.")
        elif event.state is WorkerState.SUCCESS and worker.group == "read":
            rows, self._numbers, self._labels = cast("Columns", worker.result)
            names = ", ".join(path.name for path in self._tables)
            await self._say(f"{names}: {rows} rows.\n\n{_WELCOME}")
            await self._lay_out_fields()
        elif event.state is WorkerState.SUCCESS:
            self.query_one("#answer").loading = False
            await self._show(cast("Answer", worker.result))

    async def _show(self, answer: Answer) -> None:
        assert self._asked is not None
        self._answer = answer
        page = answer.page
        same = f"The same from the command line: {command(self._question, self._asked)}"
        await self._say_all(
            [
                _text(page.title, "title"),
                _text(page.reading, "reading"),
                *(ShapePlot(shape) for shape in page.shapes),
                *(TableText(one) for one in page.tables),
                _text(page.method, "aside"),
                _text(same, "aside"),
            ]
        )

    async def _say(self, text: str) -> None:
        await self._say_all([_text(text, "reading")])

    async def _say_all(self, widgets: Iterable[Widget]) -> None:
        pane = self.query_one("#answer", VerticalScroll)
        await pane.remove_children()
        await pane.mount_all(widgets)
        pane.scroll_home(animate=False)

    # What else can be done

    def action_save(self) -> None:
        """Write the page (HTML) and the numbers (JSON) of the answer shown."""
        if self._answer is None:
            self.tell("There is no answer yet.")
            return
        self.push_screen(SaveDialog(self._question.name), self._saved)

    def _saved(self, stem: str | None) -> None:
        if stem is None or self._answer is None:
            return
        page, numbers = Path(f"{stem}.html"), Path(f"{stem}.json")
        try:
            write_whole(page, pages.html(self._answer.page).encode())
            write_whole(numbers, to_json(self._answer.result))
        except OSError as error:
            self.tell(f"{error.filename}: {error.strerror}", severity="error")
        else:
            self.tell(f"Written: {page} and {numbers}")

    def action_look(self) -> None:
        """Change between light and dark."""
        palette.turn(self)

    def action_other_side(self) -> None:
        """Go from the question to the answer and back."""
        pane = self.query_one("#answer")
        target = self.query_one(f"#{_QUESTION}") if pane.has_focus else pane
        target.focus()


def _alone(ticks: TickList) -> TickList:
    ticks.add_class("alone")  # no name stands above it
    return ticks


def _text(text: str, role: str) -> Static:
    return Static(text, classes=role, markup=False)
