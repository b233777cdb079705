"""Curves from real recordings (simulated, invented pitchers), read while the screen is used."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.sessions.measured import Measured
from analysis.sessions.stored import StoredSession, read_session
from tests.review.driving import SI, press, shown, until
from tui.commands.main import main
from tui.review import app as app_module
from tui.review.app import ReviewApp
from tui.review.job import Progress


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> StoredSession:
    folder = tmp_path_factory.mktemp("simulated")
    recording = str(folder / "simulated.mcap")
    simulate = ["simulate", "--to", recording, "--pitches", "4", "--pitchers", "2", "--seed", "5"]
    assert main([*simulate, "--quick", "--no-traffic"]) == 0
    assert main(["replay", recording, "--session", str(folder / "day")]) == 0
    return read_session(folder / "day")


async def test_curves_come_by_themselves(session: StoredSession) -> None:
    app = ReviewApp([session], SI)
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot)
        assert "4 pitches" in shown(app)
        # The day of the first recording, not that of the folder, which a replay made later.
        assert f"{session.began:%Y-%m-%d %H:%M} UTC" in shown(app)
        await until(pilot, lambda: app.desk.now.measured, "curves are read")
        await until(pilot, lambda: "curves read" in shown(app), "and it is said")
        for row in app.desk.now.pitches:
            traces = app.desk.now.traces[row.record.number]
            drive = np.linalg.norm(traces.drive, axis=1)
            at = row.record.events_s["drive_peak"]
            assert at is not None
            near = np.abs(traces.time_s - at) < 0.006
            assert drive[near].max() == pytest.approx(row.record.metrics["drive_peak_n"], rel=2e-3)
        # Marks for the peaks of both legs stand on the deck.
        assert "■" in shown(app)


async def test_reading_can_be_stopped_and_begun_again(
    session: StoredSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    moment = threading.Event()

    def endless(session: StoredSession, *, progress: Progress, **_: object) -> Measured:
        while True:
            progress(0.34)
            moment.wait(0.005)

    with monkeypatch.context() as patch:
        patch.setattr(app_module, "measure", endless)
        app = ReviewApp([session], SI)
        async with app.run_test(size=(120, 40)) as pilot:
            await until(pilot, lambda: "reading 34 %" in shown(app), "how far it is")
            # The screen is alive meanwhile.
            await press(pilot, "down")
            assert app.desk.now.chosen == 2
            await press(pilot, "escape")
            assert not app.reading.busy
            assert "Press g to read them." in shown(app)
            patch.undo()
            await press(pilot, "g")
            await until(pilot, lambda: app.desk.now.measured, "curves are read")


async def test_a_broken_recording_leaves_the_table(session: StoredSession, tmp_path: Path) -> None:
    broken = tmp_path / "recording-001.mcap"
    broken.write_bytes(b"not a recording")
    other = replace(session, recordings=(broken,))
    app = ReviewApp([other], SI)
    async with app.run_test(size=(120, 40)) as pilot:
        await until(pilot, lambda: not app.reading.busy, "reading ends")
        assert "No curves:" in shown(app)
        assert "4 pitches" in shown(app)
