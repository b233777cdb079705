"""Stored sessions for the tests of recompute, made by the program itself (invented data)."""

from __future__ import annotations

import shutil
from pathlib import Path

from tui.commands.main import main


def make_sessions(folder: Path, count: int, pitches: int = 2) -> list[Path]:
    """Return ``count`` session folders, each of a simulated bullpen of its own."""
    made = []
    for seed in range(1, count + 1):
        feed, session = folder / f"feed-{seed}.mcap", folder / f"session-{seed}"
        words = ["--pitches", str(pitches), "--seed", str(seed), "--block", "10", "--quick"]
        assert main(["simulate", "--to", str(feed), *words]) == 0
        assert main(["replay", str(feed), "--session", str(session)]) == 0
        made.append(session)
    return made


def copied(sessions: list[Path], folder: Path) -> list[Path]:
    """Return copies of ``sessions`` in ``folder``, to be changed by one test."""
    return [Path(shutil.copytree(session, folder / session.name)) for session in sessions]


def files_of(folder: Path) -> dict[str, bytes]:
    """Return every file under ``folder`` by its name."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
