"""``moundfeed study``: statistics over many pitches, on the command line and on a screen.

Prints the reading; ``--json`` and ``--html`` write the numbers and a page. Exit code 2 with one
line on standard error where the table or the question cannot be used.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from tui.commands.errors import BadInput
from tui.commands.first_steps import STUDY, name_sessions, no_session
from tui.study.questions import QUESTIONS, Field, Kind, Question, Takes

_Parsers = argparse._SubParsersAction  # argparse gives its own type no public name
_TABLE = (
    "CSV or Parquet table, one row a pitch, a session folder, or what recompute --tables wrote; "
    "several are joined"
)


def add_parser(subparsers: _Parsers[argparse.ArgumentParser]) -> None:
    """Add ``study`` and its questions."""
    text = "statistics over many pitches: effects, reliability, agreement"
    parser = subparsers.add_parser(
        "study",
        help=text,
        description=text,
        epilog="Descriptive statistics, not medical advice. "
        "'moundfeed study QUESTION --help' explains a question.",
    )
    questions = parser.add_subparsers(title="questions", metavar="QUESTION")
    parser.set_defaults(run=_which)
    for question in QUESTIONS:
        _add_question(questions, question)
    _add_screen(questions)


def _add_question(questions: _Parsers[argparse.ArgumentParser], question: Question) -> None:
    parser = questions.add_parser(question.name, help=question.asks, description=question.asks)
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the numbers as JSON")
    parser.add_argument("--html", type=Path, metavar="OUT", help="write a page with plots")
    if question.takes is Takes.TABLES:
        _add_tables(parser)
        parser.add_argument(
            "--without-estimates",
            action="store_true",
            help="of session folders: leave out values that are marked as estimates",
        )
    elif question.takes is Takes.TWO_TRACES:
        text = "CSV or Parquet, one row a sample"
        parser.add_argument("ours", type=Path, metavar="OURS", help=text)
        parser.add_argument("reference", type=Path, metavar="REFERENCE", help="the same, other's")
    for field in question.fields:
        _add_field(parser, field)
    parser.set_defaults(run=_runner(question.name))


def _add_tables(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", nargs="+", type=Path, metavar="TABLE", help=_TABLE)


def _add_field(parser: argparse.ArgumentParser, field: Field) -> None:
    if field.kind is Kind.YES:
        parser.add_argument(field.option, action="store_true", help=field.help)
        return
    parser.add_argument(
        field.option,
        type=_TYPES.get(field.kind, str),
        metavar=None if field.choices else field.mark,
        help=field.help,
        required=field.required,
        choices=field.choices or None,
        action="append" if field.many else "store",
        default=[] if field.many and not field.required else field.default,
    )


def _counts(text: str) -> list[int]:
    try:
        return [int(part) for part in text.split(",")]
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a list like 8,20,50") from None


_TYPES: dict[Kind, Callable[[str], object]] = {
    Kind.NUMBER: float,
    Kind.WHOLE: int,
    Kind.COUNTS: _counts,
    Kind.FILE: Path,
}


def _runner(name: str) -> Callable[[argparse.Namespace], int]:
    def run(args: argparse.Namespace) -> int:
        try:
            from analysis.study import answers, pages
            from analysis.study.results import StudyError, to_json
        except ImportError as error:
            raise _not_installed(error) from error
        from stream.recording.durable import write_whole

        try:
            answer = answers.QUESTIONS[name](args)
        except StudyError as error:
            raise BadInput(str(error)) from error
        print(answer.result.reading)
        if args.json is not None:
            write_whole(args.json, to_json(answer.result))
        if args.html is not None:
            write_whole(args.html, pages.html(answer.page).encode())
        return 0

    return run


def _not_installed(error: ImportError) -> BadInput:
    return BadInput(
        f"the study bench needs '{error.name}'; install it with: pip install '.[study]'"
    )


def _add_screen(questions: _Parsers[argparse.ArgumentParser]) -> None:
    text = "the screen: choose a question and columns, see the answer"
    parser = questions.add_parser("ask", help=text, description=text)
    parser.add_argument("table", nargs="*", type=Path, metavar="TABLE", help=_TABLE)
    parser.add_argument("--look", choices=("dark", "light"), default="dark", help="(dark)")
    parser.set_defaults(run=_ask)


def _which(args: argparse.Namespace) -> int:
    raise BadInput(STUDY)


def _ask(args: argparse.Namespace) -> int:
    if not args.table:
        raise BadInput(name_sessions("moundfeed study ask", " (or a CSV or Parquet table)"))
    for table in args.table:
        if said := no_session(table, "moundfeed study ask"):
            raise BadInput(said)
    try:
        from tui.study.app import StudyApp
    except ImportError as error:
        raise _not_installed(error) from error
    app = StudyApp(args.table, args.look)
    app.run()
    return app.return_code or 0
