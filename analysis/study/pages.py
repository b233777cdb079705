"""One self-contained page: the reading first, then plots, numbers and method."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis import page
from analysis.study.cautions import CAUTIONS
from analysis.study.points import Shape
from analysis.study.results import Missing


@dataclass(frozen=True)
class Figure:
    """A drawing with the words that stand below it and describe it to a screen reader.

    ``draw`` gives the SVG; it is asked only when a page is written.
    """

    draw: Callable[[], str]
    caption: str


@dataclass(frozen=True)
class Table:
    """Rows of text under headings."""

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Page:
    """An answer as it is shown: what was asked, the reading, plots, numbers, method.

    ``shapes`` are the plots as numbers, for a screen; ``cautions`` end the
    reading and stand in a frame on a page.
    """

    title: str
    reading: str
    figures: Sequence[Figure]
    tables: Sequence[Table]
    method: str
    shapes: Sequence[Shape] = ()
    cautions: Sequence[str] = CAUTIONS


def html(answer: Page) -> str:
    """Write a page as HTML."""
    said = answer.reading.removesuffix(" ".join(answer.cautions)).strip()
    parts = [
        page.heading(answer.title, 1),
        *map(page.paragraph, said.splitlines()),
        page.bullets(answer.cautions, "cautions"),
        *(page.figure(figure.draw(), figure.caption) for figure in answer.figures),
        *(page.table(table.caption, table.head, table.rows) for table in answer.tables),
        page.heading("Method"),
        page.paragraph(answer.method),
    ]
    return page.document(answer.title, parts)


def missing_table(missing: Missing) -> list[Table]:
    """List the rows that were left out; nothing where none was."""
    if not missing.rows:
        return []
    caption = "Rows left out for missing values"
    if any(row.session is None for row in missing.rows):
        rows = [(str(row.row), ", ".join(row.columns)) for row in missing.rows]
        return [Table(caption, ("row", "missing"), rows)]
    named = [(row.session or "", str(row.number), ", ".join(row.columns)) for row in missing.rows]
    return [Table(caption, ("session", "pitch", "missing"), named)]
