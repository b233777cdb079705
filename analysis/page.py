"""One self-contained HTML page: the style and the parts that study pages and reports share.

Nothing is fetched from anywhere, nothing needs a script; printed, the page is black on white.
Every text goes through :func:`text`; only drawings made here go in as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

#: A table of more rows may part between two pages in print; a shorter one stays whole.
MOST_WHOLE = 8

_CSS = """
body { font: 16px/1.5 system-ui, sans-serif; color: #000; background: #fff;
       max-width: 50rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.15rem; margin-top: 2rem; }
table { border-collapse: collapse; margin: 1rem 0; }
caption { text-align: left; font-weight: bold; padding-bottom: .3rem; }
th, td { border-bottom: 1px solid #999; padding: .25rem .8rem .25rem 0; text-align: right;
         font-variant-numeric: tabular-nums; }
th:first-child, td:first-child, .words { text-align: left; }
pre { font-size: .8rem; white-space: pre-wrap; overflow-wrap: anywhere; }
details { margin: 1rem 0; } summary { font-weight: bold; cursor: pointer; }
figure { margin: 1rem 0; break-inside: avoid; } figcaption { font-size: .9rem; }
svg { max-width: 100%; height: auto; }
.cautions { border: 2px solid #000; padding: .5rem 1rem; break-inside: avoid; }
@media print { body { font-size: 11pt; margin: 0; max-width: none; } tr { break-inside: avoid; }
  tbody tr:first-child { break-before: avoid; }
  table { break-inside: avoid; } table.long { break-inside: auto; } caption { break-after: avoid; }
  h1, h2, h3, h4, summary { break-after: avoid; }
  details pre { font-size: 6pt; columns: 2; }
  details::details-content { content-visibility: visible; display: block; } }
"""


def text(words: str) -> str:
    """Return ``words`` as HTML text, also inside a quoted attribute; unseen characters replaced.

    Unseen ones could turn the reading order round or hide what is said.
    """
    return escape("".join(map(_seen, words)) if not words.isprintable() else words, quote=True)


def _seen(character: str) -> str:
    if character.isprintable():
        return character
    # Spaces of other widths are not "printable", but harmless.
    return " " if character.isspace() else "\N{REPLACEMENT CHARACTER}"


def document(title: str, parts: Iterable[str], style: str = "") -> str:
    """Return a whole page of ``parts``, which are HTML; ``style`` is more CSS of our own."""
    return (
        "<!DOCTYPE html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width'>"
        f"<title>{text(title)}</title><style>{_CSS}{style}</style></head>\n<body>\n"
        + "\n".join(parts)
        + "\n</body></html>\n"
    )


def heading(words: str, level: int = 2) -> str:
    """Return a heading."""
    return f"<h{level}>{text(words)}</h{level}>"


def paragraph(words: str) -> str:
    """Return one paragraph."""
    return f"<p>{text(words)}</p>"


def verbatim(words: str) -> str:
    """Return lines as they are, in letters of equal width."""
    return "<pre>" + "\n".join(map(text, words.splitlines())) + "</pre>"


def folded(title: str, words: str) -> str:
    """Return lines as they are under ``title``: folded up on a screen, small in print."""
    return f"<details><summary>{text(title)}</summary>{verbatim(words)}</details>"


def bullets(items: Iterable[str], kind: str = "") -> str:
    """Return a list; ``kind`` "cautions" is the framed one."""
    inside = "<ul>" + "".join(f"<li>{text(item)}</li>" for item in items) + "</ul>"
    return f"<div class='{kind}'>{inside}</div>" if kind else inside


def figure(svg: str, caption: str) -> str:
    """Return a drawing with its caption, which a screen reader gets as its description."""
    label = text(caption)
    named = svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
    return f"<figure>{named}<figcaption>{label}</figcaption></figure>"


def table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], words: Sequence[int] = ()
) -> str:
    """Return a table of texts; columns ``words`` (and the first) are words, not numbers."""
    kinds = [" class='words'" if column in words else "" for column in range(len(head))]
    top = "".join(
        f"<th scope='col'{kind}>{text(cell)}</th>" for kind, cell in zip(kinds, head, strict=True)
    )
    cells = list(rows)
    long = " class='long'" if len(cells) > MOST_WHOLE else ""
    body = "".join(
        "<tr>"
        + "".join(f"<td{kind}>{text(cell)}</td>" for kind, cell in zip(kinds, row, strict=True))
        + "</tr>"
        for row in cells
    )
    return (
        f"<table{long}><caption>{text(caption)}</caption>"
        f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
    )
