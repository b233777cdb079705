from __future__ import annotations

from tests.transport.mosquitto import broker, make_broker

__all__ = ["broker", "make_broker"]
