"""What a monitor is asked to do; it can be handed to a process of its own."""

from __future__ import annotations

import msgspec

from stream.access.options import ConnectionOptions


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """All that a monitor needs to begin. Paths are absolute; no secret is in it.

    ``layout``, ``settings`` and ``roster`` are the files' texts (the roster
    without names). ``view`` lets viewers look on at a further address.
    ``scenario`` is how a simulated feed was made, which the recording then says.
    ``record`` is for a run without a ``session``, which has its own recording.
    ``owner`` is the process that starts the monitor, where it must end with it.
    """

    feed: str
    layout: str
    settings: str = ""
    roster: str = ""
    pitcher: str = ""
    options: ConnectionOptions = ConnectionOptions()
    pitches: int | None = None
    jsonl: str | None = None
    record: str | None = None
    session: str | None = None
    publish: str | None = None
    publish_options: ConnectionOptions = ConnectionOptions()
    view: str | None = None
    view_keys: str | None = None
    open_to_network: bool = False
    scenario: str = ""
    owner: int | None = None

    def __post_init__(self) -> None:
        if self.record and self.session:
            raise ValueError("a session has its own recording; a second one cannot be asked for")


def encode_plan(plan: Plan) -> bytes:
    """Return ``plan`` as JSON."""
    return msgspec.json.encode(plan)


def decode_plan(payload: bytes) -> Plan:
    """Return the plan in ``payload``; raise msgspec.DecodeError."""
    return msgspec.json.decode(payload, type=Plan)
