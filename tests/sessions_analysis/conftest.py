from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from stream.actions import EnterSpeed, Note, Void
from stream.recording.reader import Recording, read_recording
from stream.recording.session import Session
from tests.sessions_analysis.made import SOURCE, keep_live
from tui.commands.main import main


@pytest.fixture(scope="session")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Fourteen invented pitches of two pitchers, P01 and P02."""
    path = tmp_path_factory.mktemp("sessions") / "made.mcap"
    arguments = ["--pitches", "14", "--pitchers", "2", "--quick", "--seed", "3", "--block", "50"]
    assert main(["simulate", "--to", str(path), *arguments]) == 0
    return read_recording(path)


@pytest.fixture(scope="session")
def kept(simulated: Recording, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session of two runs, with changes by the operator in both; not to be written to."""
    folder = tmp_path_factory.mktemp("kept") / "session"
    packets = list(simulated.packets())
    half = len(packets) * 2 // 3
    keep_live(
        folder,
        simulated,
        [packets[:half], packets[half:]],
        {
            2: [Note(source=SOURCE, t_ns=1, number=2, text="<i>low</i>"),
                Void(source=SOURCE, t_ns=2, number=2, reason="slipped")],
            3: [Void(source=SOURCE, t_ns=3, number=1, reason="")],
            5: [EnterSpeed(source=SOURCE, t_ns=4, number=5, speed_mps=31.5)],
            # Far from here, in the second run: refused live, and done in the review.
            13: [Void(source=SOURCE, t_ns=5, number=4, reason="foul grip")],
        },
    )  # fmt: skip
    return folder


@pytest.fixture
def session(kept: Path, tmp_path: Path) -> Session:
    """A copy of it that may be written to."""
    return Session.open(Path(shutil.copytree(kept, tmp_path / "session")))
