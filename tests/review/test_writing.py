"""Reports and exports from the review: the same files as the commands write."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from textual.widgets import Input

from analysis.review.written import Kind, NotWritten, write
from tests.review.driving import press, review, told, until
from tests.review.invented_sessions import pitches, stored
from tui.commands.main import main
from tui.review.job import Job, Progress, Settle


def nothing(share: float) -> None:
    """Take no notice of progress."""


async def test_a_report_of_both_sessions(tmp_path: Path) -> None:
    first = stored(tmp_path / "tuesday", pitches(12))
    second = stored(tmp_path / "friday", pitches(12, seed=3))
    out = tmp_path / "both.html"
    app = review(first, second)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "w", *"one report of all", "enter")
        app.screen.query_one(Input).value = str(out)
        await press(pilot, "enter")
        await until(pilot, lambda: not app.writing.busy, "the report is written")
        assert "both.html" in told(app)[-1]
    text = out.read_text()
    assert text.startswith("<!doctype html>") or "<html" in text[:500]
    assert "P03" in text
    assert out.stat().st_mode & 0o077 == 0


def test_an_export_is_that_of_the_command(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", pitches())
    ours, theirs = tmp_path / "ours.csv", tmp_path / "theirs.csv"
    said = write(Kind.CSV, [session], ours, nothing)
    folder = str(tmp_path / "tuesday")
    assert main(["export", folder, "--to", "csv", "-o", str(theirs)]) == 0
    assert ours.read_bytes() == theirs.read_bytes()
    assert said.startswith("12 pitches")


def test_what_is_there_is_not_written_over(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", pitches())
    out = tmp_path / "there.csv"
    out.write_text("mine")
    with pytest.raises(NotWritten, match="already"):
        write(Kind.CSV, [session], out, nothing)
    assert out.read_text() == "mine"


def test_a_session_without_pitches_has_no_export(tmp_path: Path) -> None:
    session = stored(tmp_path / "tuesday", [])
    with pytest.raises(NotWritten, match="no pitch"):
        write(Kind.CSV, [session], tmp_path / "x.csv", nothing)


def test_a_job_tells_its_errors_and_can_be_stopped() -> None:
    job, said = Job(), list[str]()

    def fails(tell: Progress) -> Settle:
        raise ValueError("no good")

    job.start(fails, said.append)
    while job.busy:
        job.poll()
    assert said == ["no good"]

    begun, go_on = threading.Event(), threading.Event()

    def waits(tell: Progress) -> Settle:
        tell(0.25)
        begun.set()
        go_on.wait(30.0)
        tell(0.5)
        return lambda: said.append("done")

    job.start(waits, said.append)
    assert begun.wait(30.0)
    assert job.poll()
    assert job.share == 0.25
    job._stop.set()
    go_on.set()
    job.stop()
    assert not job.busy
    assert said == ["no good"]
