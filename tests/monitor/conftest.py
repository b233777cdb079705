from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.monitor.programs import end_all
from tests.transport.mosquitto import broker, make_broker

__all__ = ["broker", "make_broker"]


@pytest.fixture(autouse=True)
def _nothing_left_running() -> Iterator[None]:
    yield
    end_all()
