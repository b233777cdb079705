"""Rows of cells as CSV text (RFC 4180 quoting) and into a new file of the owner's alone."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path

#: A cell that begins with one of these may be taken as a formula by a spreadsheet.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_text(rows: Sequence[Sequence[str]]) -> str:
    """Return ``rows`` as CSV; a text that a spreadsheet would run as a formula gets a quote."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        writer.writerow([_harmless(cell) for cell in row])
    return out.getvalue()


def write_new(path: Path, text: str) -> None:
    """Write ``text`` into a new file, readable by its owner alone; raise OSError."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
        file.write(text)


def _harmless(cell: str) -> str:
    if not cell.startswith(_FORMULA):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
