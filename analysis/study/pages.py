"""One self-contained page: the reading first, then plots, numbers and method.

Nothing is fetched from anywhere, nothing needs a script; printed, the page is black on white.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from analysis.study.points import Shape
from analysis.study.reading import CAUTIONS
from analysis.study.results import Missing

_CSS = """
body { font: 16px/1.5 system-ui, sans-serif; color: #000; background: #fff;
       max-width: 50rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.15rem; margin-top: 2rem; }
table { border-collapse: collapse; margin: 1rem 0; }
caption { text-align: left; font-weight: bold; padding-bottom: .3rem; }
th, td { border-bottom: 1px solid #999; padding: .25rem .8rem .25rem 0; text-align: right;
         font-variant-numeric: tabular-nums; }
th:first-child, td:first-child { text-align: left; }
figure { margin: 1rem 0; break-inside: avoid; } figcaption { font-size: .9rem; }
svg { max-width: 100%; height: auto; }
.cautions { border: 2px solid #000; padding: .5rem 1rem; break-inside: avoid; }
@media print { body { font-size: 11pt; margin: 0; max-width: none; } tr { break-inside: avoid; } }
"""


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

    ``shapes`` are the plots as numbers, for a screen.
    """

    title: str
    reading: str
    figures: Sequence[Figure]
    tables: Sequence[Table]
    method: str
    shapes: Sequence[Shape] = ()


def html(page: Page) -> str:
    """Write a page as HTML; all text is escaped here, SVG goes in as it is."""
    title = page.title
    said = page.reading.removesuffix(" ".join(CAUTIONS)).strip()
    parts = [
        f"<h1>{escape(title)}</h1>",
        *(f"<p>{escape(line)}</p>" for line in said.splitlines()),
        "<div class='cautions'><ul>",
        *(f"<li>{escape(caution)}</li>" for caution in CAUTIONS),
        "</ul></div>",
        *(_figure(figure) for figure in page.figures),
        *(_table(table) for table in page.tables),
        f"<h2>Method</h2><p>{escape(page.method)}</p>",
    ]
    return (
        "<!DOCTYPE html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width'>"
        f"<title>{escape(title)}</title><style>{_CSS}</style></head>\n<body>\n"
        + "\n".join(parts)
        + "\n</body></html>\n"
    )


def _figure(figure: Figure) -> str:
    label = escape(figure.caption, quote=True)
    svg = figure.draw().replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
    return f"<figure>{svg}<figcaption>{escape(figure.caption)}</figcaption></figure>"


def _table(table: Table) -> str:
    head = "".join(f"<th scope='col'>{escape(cell)}</th>" for cell in table.head)
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in table.rows
    )
    return (
        f"<table><caption>{escape(table.caption)}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    )


def missing_table(missing: Missing) -> list[Table]:
    """List the rows that were left out; nothing where none was."""
    if not missing.rows:
        return []
    rows = [(str(row.row), ", ".join(row.columns)) for row in missing.rows]
    return [Table("Rows left out for missing values", ("row", "missing"), rows)]
