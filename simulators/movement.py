"""A movement on its own time line, ready to be placed in a session."""

from __future__ import annotations

from dataclasses import dataclass

from simulators.contacts import Contact
from stream.outputs import NotCountedReason


@dataclass(frozen=True, eq=False)
class Movement:
    """Contacts from 0 to ``end`` s; ``like`` holds (time, reason) if it resembles a delivery."""

    name: str
    end: float
    contacts: tuple[Contact, ...] = ()
    like: tuple[float, NotCountedReason] | None = None
