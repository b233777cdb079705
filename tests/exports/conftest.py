"""One invented session for all tests of a module: simulating is what takes the time."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.exports.sessions import session_of, simulated
from tui.commands.main import main


@pytest.fixture(scope="package")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return simulated(tmp_path_factory.mktemp("recording"))


@pytest.fixture(scope="package")
def stored(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return session_of(recording, tmp_path_factory.mktemp("stored") / "tuesday")


@pytest.fixture
def session(stored: Path, tmp_path: Path) -> Path:
    """A copy of the session that the test may change."""
    return Path(shutil.copytree(stored, tmp_path / "tuesday"))


@pytest.fixture(scope="package")
def unfiltered(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The session measured without a filter: its curves are then the platforms' own samples."""
    folder = tmp_path_factory.mktemp("unfiltered")
    settings = folder / "settings.toml"
    settings.write_text('filter_hz = "none"\n')
    words = ["replay", str(recording), "--session", str(folder / "s")]
    assert main([*words, "--settings", str(settings)]) == 0
    return folder / "s"


@pytest.fixture(scope="package")
def files(unfiltered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("files") / "c3d"
    assert main(["export", str(unfiltered), "--to", "c3d", "-o", str(out)]) == 0
    return out


@pytest.fixture(scope="package")
def beside(unfiltered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same beside a motion capture at 250 Hz."""
    out = tmp_path_factory.mktemp("beside") / "c3d"
    words = ["export", str(unfiltered), "--to", "c3d", "-o", str(out), "--point-rate", "250"]
    assert main(words) == 0
    return out
