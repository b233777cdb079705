"""The product's own commands as real processes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

STARTED: list[subprocess.Popen[str]] = []
MOUNDFEED = [sys.executable, "-m", "tui.commands.main"]


def start(*words: str | Path, **environment: str) -> subprocess.Popen[str]:
    """Start a command; its output is read with ``communicate``."""
    process = subprocess.Popen(
        [*MOUNDFEED, *map(str, words)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, **environment},
    )
    STARTED.append(process)
    return process


def end_all() -> None:
    """End what a test that failed left running."""
    while STARTED:
        process = STARTED.pop()
        process.kill()
        process.communicate()


def outcome(*words: str | Path, **environment: str) -> tuple[int, str, str]:
    """Run a command to its end; return (exit code, stdout, stderr)."""
    process = start(*words, **environment)
    out, err = process.communicate(timeout=120)
    return process.returncode, out, err
