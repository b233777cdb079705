"""What to do next, for whoever has given a command too little to go on: one sentence each."""

from __future__ import annotations

from pathlib import Path

#: The last lines of what ``moundfeed`` alone says.
TO_BEGIN = """to begin:
  moundfeed demo     an invented session on the screen; no device is needed
  moundfeed check --from tcp://HOST:PORT --layout two-plates     your own mound
  moundfeed watch --from tcp://HOST:PORT --layout two-plates --session tuesday"""
WATCH = (
    "where does the feed come from? Give --from URL, --session DIR or --at URL, for example: "
    "moundfeed watch --from tcp://HOST:PORT --layout two-plates --session tuesday. "
    "Without a device: moundfeed demo"
)
CHECK = (
    "which mound is to be checked? For example: moundfeed check --from tcp://HOST:PORT --layout "
    "two-plates. To practise without a device, in a second terminal: moundfeed simulate --to "
    "tcp://127.0.0.1:5555 --scene check --at=1.8,0.3, and here --from tcp://127.0.0.1:5555"
)
STUDY = (
    "which question? moundfeed study ask TABLE is the screen for all of them; moundfeed study "
    "--help names them"
)
_MAKE_ONE = (
    "A session is a folder that watch, log or replay kept with --session; to make one to try: "
    "moundfeed demo --session tuesday"
)
_MOST = 5


def name_sessions(command: str, also: str = "") -> str:
    """Return the sentence of a command that was given no session; ``also``: what else it takes."""
    here = _sessions_here()
    if here:
        return f"which session? Here there are {_named(here)}: {command} {here[-1]}{also}"
    return f"which session? {command} DIR{also}. {_MAKE_ONE}"


def no_session(folder: Path, command: str, also: str = "") -> str | None:
    """Return the sentence on ``folder`` where it is none of a session, with what to do."""
    if (folder / "session.json").exists() or folder.is_file():
        return None
    what = "has no session.json" if folder.is_dir() else "is not there"
    here = _sessions_here()
    then = f"Sessions here: {_named(here)}: {command} {here[-1]}{also}" if here else _MAKE_ONE
    return f"{folder} is not a session (it {what}). {then}"


def _named(sessions: list[str]) -> str:
    """Return the newest of ``sessions`` by name, and how many more there are."""
    more = len(sessions) - _MOST
    return ", ".join(sessions[-_MOST:]) + (f" and {more} more" if more > 0 else "")


def _sessions_here() -> list[str]:
    """Return the session folders of this folder, the newest last."""
    files = sorted(Path().glob("*/session.json"), key=lambda file: file.stat().st_mtime)
    return [file.parent.name for file in files]
