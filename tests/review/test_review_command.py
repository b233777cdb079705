"""The command ``review``: its input, and what it puts on the screen."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.review.driving import opened_by
from tests.review.invented_sessions import pitches, stored
from tui.commands.main import main
from tui.units import System, Units


def test_a_folder_that_is_no_session(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"moundfeed: {tmp_path} is not a session (it has no session.json). ")
    assert told.count("\n") == 1


def test_a_session_named_twice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stored(tmp_path / "tuesday", pitches())
    folder = str(tmp_path / "tuesday")
    assert main(["review", folder, f"{folder}/../tuesday"]) == 2
    assert "named twice" in capsys.readouterr().err


def test_a_result_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stored(tmp_path / "tuesday", pitches())
    assert main(["review", str(tmp_path / "tuesday"), "--result", "other"]) == 2
    assert "no result 'other'" in capsys.readouterr().err


def test_sessions_of_one_moment_stay_as_they_were_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, at in (("zulu", "07.900"), ("alpha", "07.100")):
        stored(tmp_path / name, pitches(), created=f"2031-05-06T15:00:{at}+00:00")
    for order in (["zulu", "alpha"], ["alpha", "zulu"]):
        desk = opened_by(monkeypatch, *(str(tmp_path / name) for name in order)).desk
        assert [s.name for s in desk.sittings] == order


def test_sessions_stand_in_the_order_of_their_days(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stored(tmp_path / "later", pitches(), created="2031-05-09T15:00:00+00:00")
    stored(tmp_path / "first", pitches(), created="2031-05-06T15:00:00+00:00")
    folders = [str(tmp_path / "later"), str(tmp_path / "first")]
    chosen = ["--units", "si", "--decimal", ",", "--look", "light"]
    app = opened_by(monkeypatch, *folders, *chosen)
    assert [sitting.name for sitting in app.desk.sittings] == ["first", "later"]
    assert app.units == Units(System.SI, ",")
    assert app.theme == "moundfeed-light"
