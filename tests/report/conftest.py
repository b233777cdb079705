from __future__ import annotations

import shutil
from pathlib import Path

import msgspec
import pytest

from stream.actions import Note, Reassign, Void
from stream.recording.session import Session
from tui.commands.main import main

SOURCE = "mound-a"
NASTY = "<script>alert(1)</script>\"'&amp;\u202e\x1b[31m</td></table>"


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session of 12 invented pitches of two pitchers; not to be written to."""
    folder = tmp_path_factory.mktemp("report")
    made = folder / "made.mcap"
    arguments = ["--pitches", "12", "--pitchers", "2", "--quick", "--seed", "7", "--block", "50"]
    assert main(["simulate", "--to", str(made), *arguments]) == 0
    assert main(["replay", str(made), "--session", str(folder / "session")]) == 0
    return folder / "session"


@pytest.fixture
def folder(told: Path, tmp_path: Path) -> Path:
    """A copy of it that may be written to."""
    return Path(shutil.copytree(told, tmp_path / "session"))


@pytest.fixture
def nasty(folder: Path) -> Path:
    """The session with texts that would be markup in a page, wherever a text can come from."""
    session = Session.open(folder)
    for action in (
        Note(source=SOURCE, t_ns=1, number=2, text=NASTY),
        Void(source=SOURCE, t_ns=2, number=3, reason=NASTY),
        Reassign(source=SOURCE, t_ns=3, number=4, pitcher="<b>P&9"),
    ):
        session.add_log("action", msgspec.to_builtins(action))
    session.close()
    layout = folder / "layout.toml"
    layout.write_text(f"# {NASTY.replace(chr(27), '')}\n" + layout.read_text())
    lines = (folder / "pitches.jsonl").read_bytes()
    extra = {
        "source": SOURCE, "stream": "x", "not_counted": "other", "frame": 1.0, "why": NASTY, "v": 1,
    }  # fmt: skip
    (folder / "pitches.jsonl").write_bytes(lines + msgspec.json.encode(extra) + b"\n")
    return folder
