"""Lines for a terminal that tears no word; a file or a program has each in one piece."""

from __future__ import annotations

import shutil
import sys
import textwrap
from typing import TextIO

_LEAST_COLUMNS = 40


def say(text: str, indent: int = 0, file: TextIO | None = None) -> None:
    """Print ``text``; on a terminal it is wrapped, its further lines ``indent`` columns in."""
    out = sys.stdout if file is None else file
    if out.isatty():
        width = max(_LEAST_COLUMNS, shutil.get_terminal_size().columns)
        text = textwrap.fill(text, width, subsequent_indent=" " * indent, break_on_hyphens=False)
    print(text, file=out, flush=True)
