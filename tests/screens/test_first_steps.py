"""Whoever begins with too little is told what to do next, in one sentence with a command in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.screens.pseudo_terminal import ESCAPE, own_runtime, terminal
from tui.commands.demo import free_port
from tui.commands.main import main

__all__ = ["own_runtime"]


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with nothing in it but an empty one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    return tmp_path


def test_moundfeed_alone_tells_how_to_begin(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    *_, last = capsys.readouterr().out.split("\n\n")
    for command in ("moundfeed demo", "moundfeed check --from", "moundfeed watch --from"):
        assert command in last
    assert len(last.splitlines()) < 10, "it stands on a small terminal after the list of commands"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["watch"], ("Give --from URL", "moundfeed watch --from tcp://", "moundfeed demo")),
        (["check"], ("moundfeed check --from tcp://", "moundfeed simulate --to")),
        (["review"], ("which session?", "moundfeed demo --session tuesday")),
        (["review", "empty"], ("empty is not a session", "moundfeed demo --session tuesday")),
        (["review", "gone"], ("gone is not a session (it is not there)",)),
        (["study"], ("moundfeed study ask TABLE", "moundfeed study --help")),
        (["study", "ask"], ("which session?", "CSV or Parquet table")),
        (["study", "ask", "empty"], ("empty is not a session", "moundfeed demo --session")),
    ],
    ids=lambda each: " ".join(each) if isinstance(each, list) else "",
)
def test_one_line_says_what_to_do_next(
    capsys: pytest.CaptureFixture[str], words: list[str], says: tuple[str, ...]
) -> None:
    assert main(words) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert told.startswith("moundfeed: ")
    for part in says:
        assert part in told


@pytest.mark.parametrize("words", [["review"], ["study", "ask"], ["review", "empty"]])
def test_sessions_that_are_there_are_named(
    capsys: pytest.CaptureFixture[str], elsewhere: Path, words: list[str]
) -> None:
    (elsewhere / "tuesday").mkdir()
    (elsewhere / "tuesday" / "session.json").write_text("{}")
    assert main(words) == 2
    command = " ".join(["moundfeed", *words]).removesuffix(" empty")
    assert f"{command} tuesday" in capsys.readouterr().err


@pytest.mark.usefixtures("own_runtime")
def test_without_a_device_the_small_screen_says_what_to_look_at() -> None:
    feed = f"tcp://127.0.0.1:{free_port()}"
    with terminal("watch", "--from", feed, "--layout", "two-plates", size=(80, 24)) as term:
        term.until_shown("NO FEED YET", "switch the mound's device on and look at its network")
        term.press("q")
        assert term.ended() == 0
    words = ["check", "--from", feed, "--layout", "two-plates"]
    with terminal(*words, size=(80, 24)) as term:
        term.until_shown("Nobody answers at", "address and port are right", "Esc leaves.")
        term.press(ESCAPE)
        assert term.ended() == 1
