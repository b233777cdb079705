"""``moundfeed study``: statistics over many pitches, on the command line.

Prints the reading; ``--json`` and ``--html`` write the numbers and a page. Exit code 2 with one
line on standard error where the table or the question cannot be used.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from tui.commands.errors import BadInput

_Parsers = argparse._SubParsersAction  # argparse gives its own type no public name
_TABLE = "CSV or Parquet table, one row a pitch, or a session folder; several are joined"


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
    questions = parser.add_subparsers(title="questions", metavar="QUESTION", required=True)
    _add_effect(questions)
    _add_correlate(questions)
    _add_reliability(questions)
    _add_agreement(questions)
    _add_traces(questions)
    _add_waveforms(questions)
    _add_plan(questions)


def _question(
    questions: _Parsers[argparse.ArgumentParser], name: str, text: str
) -> argparse.ArgumentParser:
    parser = questions.add_parser(name, help=text, description=text)
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the numbers as JSON")
    parser.add_argument("--html", type=Path, metavar="OUT", help="write a page with plots")
    parser.set_defaults(run=_runner(name))
    return parser


def _runner(name: str) -> Callable[[argparse.Namespace], int]:
    def run(args: argparse.Namespace) -> int:
        try:
            from analysis.study import answers, pages
            from analysis.study.results import StudyError, to_json
        except ImportError as error:
            raise BadInput(
                f"the study bench needs '{error.name}'; install it with: "
                "pip install 'moundfeed[study]'"
            ) from error
        try:
            answer = answers.QUESTIONS[name](args)
        except StudyError as error:
            raise BadInput(str(error)) from error
        print(answer.result.reading)
        if args.json is not None:
            args.json.write_bytes(to_json(answer.result))
        if args.html is not None:
            args.html.write_text(pages.html(answer.page), encoding="utf-8")
        return 0

    return run


def _add_table(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", nargs="+", type=Path, metavar="TABLE", help=_TABLE)


def _add_pitcher(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--pitcher", required=True, metavar="COL", help="who threw")


def _add_effect(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(
        questions, "effect", "does a metric go with an outcome, within and between pitchers?"
    )
    _add_table(parser)
    parser.add_argument("--outcome", required=True, metavar="COL", help="for example speed_mps")
    parser.add_argument(
        "--predictor", required=True, action="append", metavar="COL", help="may be repeated"
    )
    _add_pitcher(parser)
    parser.add_argument(
        "--covariate", action="append", default=[], metavar="COL", help="held; may be repeated"
    )
    parser.add_argument(
        "--per", type=float, default=10.0, metavar="STEP", help="step of a predictor (default 10)"
    )
    parser.add_argument(
        "--separately", action="store_true", help="each predictor in a model of its own"
    )


def _add_correlate(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(questions, "correlate", "do two measures move together within pitchers?")
    _add_table(parser)
    parser.add_argument("--x", required=True, metavar="COL")
    parser.add_argument("--y", required=True, metavar="COL")
    _add_pitcher(parser)


def _add_reliability(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(questions, "reliability", "how far can one number be believed?")
    _add_table(parser)
    parser.add_argument("--measure", required=True, metavar="COL")
    _add_pitcher(parser)
    parser.add_argument("--day", metavar="COL", help="which day or session, for between days")
    parser.add_argument(
        "--repetition", metavar="COL", help="values that recur once for every pitcher (six forms)"
    )


def _add_agreement(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(questions, "agreement", "does one device agree with a reference?")
    _add_table(parser)
    parser.add_argument("--ours", required=True, metavar="COL")
    parser.add_argument("--reference", required=True, metavar="COL")
    parser.add_argument("--pitcher", metavar="COL", help="who threw, where pitches repeat")
    parser.add_argument(
        "--truth",
        choices=("varying", "constant"),
        default="varying",
        help="does the true value change between a pitcher's rows? (default varying)",
    )


def _add_traces(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(questions, "traces", "do two recordings of one movement agree in time?")
    parser.add_argument("ours", type=Path, metavar="OURS", help="CSV or Parquet, one row a sample")
    parser.add_argument("reference", type=Path, metavar="REFERENCE", help="the same of the other")
    parser.add_argument("--column", required=True, metavar="COL", help="trace to compare")
    parser.add_argument(
        "--reference-column", metavar="COL", help="its name in REFERENCE if it has another"
    )
    parser.add_argument("--time", default="t_s", metavar="COL", help="seconds (default t_s)")
    parser.add_argument(
        "--pulse", metavar="COL", help="align by this pulse channel of both, not by correlation"
    )


def _add_waveforms(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(
        questions, "waveforms", "where along the movement do two groups of curves differ?"
    )
    _add_table(parser)
    parser.add_argument("--value", required=True, metavar="COL", help="for example a force")
    parser.add_argument("--time", required=True, metavar="COL", help="time within the curve")
    parser.add_argument("--curve", required=True, metavar="COL", help="which movement")
    _add_pitcher(parser)
    parser.add_argument("--group", required=True, metavar="COL", help="exactly two values")


def _add_plan(questions: _Parsers[argparse.ArgumentParser]) -> None:
    parser = _question(
        questions, "plan", "how many pitchers and pitches for a wanted precision, by simulation"
    )
    parser.add_argument(
        "--half-width", type=float, required=True, metavar="W", help="wanted, per step"
    )
    parser.add_argument(
        "--like", type=Path, metavar="EFFECT.json", help="take slope and variances from an answer"
    )
    parser.add_argument("--slope", type=float, metavar="B", help="assumed slope per step")
    parser.add_argument("--sd-slope", type=float, metavar="SD", help="of pitchers' own slopes")
    parser.add_argument("--sd-residual", type=float, metavar="SD", help="outcome, pitch to pitch")
    parser.add_argument("--sd-predictor", type=float, metavar="SD", help="within a pitcher")
    parser.add_argument("--per", type=float, metavar="STEP", help="step (default 10)")
    parser.add_argument(
        "--pitchers", type=_counts, default=[8, 12, 20, 35, 50], metavar="N,N", help="to try"
    )
    parser.add_argument(
        "--pitches", type=_counts, default=[5, 10, 20], metavar="N,N", help="each, to try"
    )
    parser.add_argument("--studies", type=int, default=2000, metavar="N", help="simulated a size")
    parser.add_argument("--seed", type=int, default=1, metavar="S")


def _counts(text: str) -> list[int]:
    try:
        return [int(part) for part in text.split(",")]
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a list like 8,20,50") from None
