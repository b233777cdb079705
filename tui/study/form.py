"""From what was chosen on the screen to a question's arguments, or to what is missing."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Mapping, Sequence
from pathlib import Path

from tui.study.questions import Field, Kind, Question, Takes


class AnswerError(ValueError):
    """An answer to a field cannot be used as it is; the text says which and why."""


def arguments(
    question: Question, tables: Sequence[Path], answers: Mapping[str, object], estimates: bool
) -> argparse.Namespace:
    """Return what the question's function takes; raise :class:`AnswerError`.

    ``answers`` maps a field's name to text, a list of texts or a bool; an
    empty text stands for none.
    """
    found = argparse.Namespace(without_estimates=not estimates)
    if question.takes is Takes.TABLES:
        found.table = list(tables)
    elif question.takes is Takes.TWO_TRACES:
        if len(tables) != 2:
            raise AnswerError("This question compares two files: open the screen with both.")
        found.ours, found.reference = tables
    for field in question.fields:
        setattr(found, field.name.replace("-", "_"), _value(field, answers.get(field.name)))
    return found


def _value(field: Field, given: object) -> object:
    if field.kind is Kind.YES:
        return bool(given)
    if not given:
        if field.required:
            raise AnswerError(f"{field.label} is still to be given ({field.help}).")
        return [] if field.many else field.default
    if isinstance(given, str):
        return _typed(field, given.strip())
    return given


def _typed(field: Field, text: str) -> object:
    try:
        match field.kind:
            case Kind.NUMBER:
                return float(text)
            case Kind.WHOLE:
                return int(text)
            case Kind.COUNTS:
                return [int(part) for part in text.split(",")]
            case Kind.FILE:
                return Path(text)
            case _:
                return text
    except ValueError:
        wanted = "a list like 8,20,50" if field.kind is Kind.COUNTS else "a number"
        raise AnswerError(f"{field.label}: {text!r} is not {wanted}.") from None


def command(question: Question, asked: argparse.Namespace) -> str:
    """Return the command line that asks the same."""
    words = ["moundfeed", "study", question.name]
    if question.takes is Takes.TABLES:
        words += map(str, asked.table)
        words += ["--without-estimates"] if asked.without_estimates else []
    elif question.takes is Takes.TWO_TRACES:
        words += [str(asked.ours), str(asked.reference)]
    for field in question.fields:
        value = getattr(asked, field.name.replace("-", "_"))
        if field.kind is Kind.YES:
            words += [field.option] if value else []
        elif field.many:
            words += [word for one in value for word in (field.option, one)]
        elif value is not None and value != field.default:
            text = ",".join(map(str, value)) if isinstance(value, list) else str(value)
            words += [field.option, text]
    return shlex.join(words)
