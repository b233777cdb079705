"""Real processes on a busy computer: nothing is waited for longer than a minute."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.monitor.programs import end_all
from tests.transport import waiting
from tests.transport.mosquitto import broker, make_broker

__all__ = ["broker", "make_broker"]


@pytest.fixture(autouse=True)
def _own_runtime(short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Give each test runtime folders of its own, and leave no command running."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))
    monkeypatch.setattr(waiting, "DEADLINE_S", 60.0)
    yield
    end_all()
