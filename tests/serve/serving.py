"""A real ``moundfeed serve`` for tests."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

LINK = re.compile(r"https?://\S+\?key=\S+")


@contextmanager
def served(folder: Path, *arguments: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    words = [sys.executable, "-m", "tui.commands.main", "serve", "--session", str(folder)]
    process = subprocess.Popen(
        [*words, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        link = None
        while link is None:
            line = process.stdout.readline()
            assert line, process.stderr and process.stderr.read()
            link = LINK.search(line)
        yield link[0], process
    finally:
        process.kill()
        process.communicate()
