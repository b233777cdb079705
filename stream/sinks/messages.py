"""What the monitor publishes: event, pitch, health and session, as JSON on their topics."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import msgspec

from stream.outputs import FootContact, NotCounted, Output, Pitch, PitchChanged, record_json
from stream.wire import VERSION, TopicKind, topic


@dataclass(frozen=True, slots=True)
class Message:
    """One message to publish; a broker keeps the session's for who comes later."""

    source: str
    kind: TopicKind
    payload: bytes

    @property
    def topic(self) -> str:
        """Its topic."""
        return topic(self.source, self.kind)

    @property
    def retain(self) -> bool:
        """Whether it is kept for who comes later."""
        return self.kind is TopicKind.SESSION


def message_of(output: Output) -> Message | None:
    """Return what is published of ``output``; None where nothing is."""
    match output:
        case FootContact(source=source):
            event = {
                "v": VERSION,
                "source": source,
                "stream": output.stream,
                "event": "foot_contact",
                "frame": output.frame,
                "seen_frame": output.seen_frame,
                "body_weight_n": output.body_weight_n,
            }
            return Message(source, TopicKind.EVENT, msgspec.json.encode(event))
        case Pitch(record=pitch) | PitchChanged(record=pitch):
            return Message(pitch.source, TopicKind.PITCH, record_json(pitch))
        case NotCounted(record=movement):
            return Message(movement.source, TopicKind.PITCH, record_json(movement))
        case _:
            return None


def health_message(source: str, health: Mapping[str, Any]) -> Message:
    """Return the once-a-second message on how a mound's feed is."""
    return Message(
        source,
        TopicKind.HEALTH,
        msgspec.json.encode({"v": VERSION, "source": source, **health}),
    )


def session_message(source: str, session: Mapping[str, Any]) -> Message:
    """Return the message that says which session runs on a mound."""
    return Message(
        source,
        TopicKind.SESSION,
        msgspec.json.encode({"v": VERSION, "source": source, **session}),
    )
