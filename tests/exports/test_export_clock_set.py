"""A device's clock that somebody sets in the middle of a session moves no pitch's time."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import ezc3d
import pytest

from stream.recording.reader import read_recording
from stream.wire import decode_force
from tests.exports.sessions import session_of, simulated
from tui.commands.main import main


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The recording and the C3D files of an invented session, its clock set an hour on."""
    folder = tmp_path_factory.mktemp("clock-set")
    recording = simulated(folder, faults=("clock_step:3600@40",))
    session = session_of(recording, folder / "s")
    assert main(["export", str(session), "--to", "c3d", "-o", str(folder / "c3d")]) == 0
    return recording, folder / "c3d"


def test_every_pitch_keeps_its_time_by_the_hosts_clock(files: tuple[Path, Path]) -> None:
    recording, folder = files
    force = [p for p in read_recording(recording).packets() if p.topic.endswith("/force")]
    messages = [(decode_force(p.payload), p.received_ns) for p in force]
    when = messages[0][0].t_ns
    assert any(m.t_ns - when > 3_600_000_000_000 for m, _ in messages)
    paths = sorted(folder.glob("pitch-*.c3d"))
    assert len(paths) == 6
    for path in paths:
        own = ezc3d.c3d(str(path))["parameters"]["PITCH"]
        frame, told, uncertain = (
            own[key]["value"][0] for key in ("FIRST_FRAME", "UTC", "SYNC_UNCERTAINTY_S")
        )
        # Its message came a moment later, once its last frame was there.
        came = next(ns for m, ns in messages if m.first_frame + len(m.samples) > int(float(frame)))
        assert 0 <= came / 1e9 - datetime.fromisoformat(told).timestamp() < 0.06
        assert 0 < float(uncertain) < 0.1
