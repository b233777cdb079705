"""What every study result shares: the error with one clear sentence, and the way to JSON."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec


class StudyError(ValueError):
    """The data or the question cannot be used; the message is one sentence for the reader."""


@dataclass(frozen=True)
class Interval:
    """A 95 % confidence interval and the estimate it belongs to, in the estimate's own unit."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class MissingRow:
    """One row left out because a needed value is missing.

    ``row`` counts data rows from 1, over all tables; ``session`` and ``number``
    name the pitch where the table has these columns.
    """

    row: int
    columns: list[str]
    session: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class Missing:
    """Which rows were left out for missing values, counted by column and listed; and void ones.

    ``sessions`` is of how many the used rows are; None where no column says.
    ``invented``: at least one session says that it was simulated.
    """

    rows_read: int
    rows_used: int
    by_column: dict[str, int]
    rows: list[MissingRow]
    void: int = 0
    sessions: int | None = None
    invented: bool = False


def to_json(result: object) -> bytes:
    """Encode a result as indented JSON; what is not a finite number becomes ``null``."""
    return msgspec.json.format(msgspec.json.encode(result), indent=2) + b"\n"
