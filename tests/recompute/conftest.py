from __future__ import annotations

from pathlib import Path

import pytest

from tests.recompute.stored import copied, make_sessions


@pytest.fixture(scope="session")
def _originals(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return make_sessions(tmp_path_factory.mktemp("stored"), 3)


@pytest.fixture
def sessions(_originals: list[Path], tmp_path: Path) -> list[Path]:
    """Three stored sessions of two pitches each."""
    return copied(_originals, tmp_path)


@pytest.fixture
def low(tmp_path: Path) -> Path:
    """Settings with a lower cut-off."""
    path = tmp_path / "low.toml"
    path.write_text("filter_hz = 20.0\n")
    return path
