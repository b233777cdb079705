"""Invented sessions for the tests of exports: simulated, replayed into a folder."""

from __future__ import annotations

from pathlib import Path

import msgspec

from stream.recording.session import Session
from tui.commands.main import main

SOURCE = "mound-a"


def simulated(
    folder: Path,
    *,
    layout: str = "two-plates",
    pitches: int = 6,
    seed: int = 4,
    faults: tuple[str, ...] = (),
) -> Path:
    """Return a new recording of an invented session of three pitchers."""
    recording = folder / f"{layout}.mcap"
    words = ["simulate", "--to", str(recording), "--layout", layout, "--pitches", str(pitches)]
    words += [word for fault in faults for word in ("--fault", fault)]
    assert main([*words, "--pitchers", "3", "--quick", "--no-traffic", "--seed", str(seed)]) == 0
    return recording


def session_of(recording: Path, folder: Path) -> Path:
    """Replay ``recording`` into a session folder and return it."""
    assert main(["replay", str(recording), "--session", str(folder)]) == 0
    return folder


def act(folder: Path, action: str, number: int, **more: object) -> None:
    """Put an operator's later action into the session's log."""
    session = Session.open(folder)
    detail = {"action": action, "source": SOURCE, "t_ns": 1, "number": number, **more}
    session.add_log("action", msgspec.to_builtins(detail))
    session.close()
