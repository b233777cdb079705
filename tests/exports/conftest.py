"""One invented session for all tests of a module: simulating is what takes the time."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.exports.sessions import session_of, simulated


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
