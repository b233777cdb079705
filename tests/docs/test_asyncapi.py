"""docs/asyncapi.yaml against the standard's own schema, and the program's messages against it.

Outside: the JSON Schema of AsyncAPI 3.0.0 as its authors publish it (Apache-2.0; folder asyncapi,
with licence and notice). The messages are real ones of a simulated session (invented data).
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml
from jsonschema import Draft7Validator

from stream import actions
from stream.files import load_layout
from stream.outputs import NotCounted, NotCountedReason, NotCountedRecord
from stream.pipeline import Pipeline
from stream.recording.reader import read_recording
from stream.recording.writer import RecordingWriter
from stream.sinks.messages import health_message, message_of, session_message
from stream.snapshot import DeckState, FeedState, Level
from stream.wire import Refusal, TopicKind, WireError, decode_force, decode_speed, topic
from tui.commands.main import main

ROOT = Path(__file__).parents[2]
DOCUMENT: dict[str, Any] = yaml.safe_load((ROOT / "docs/asyncapi.yaml").read_text("utf-8"))
STANDARD = json.loads(
    gzip.decompress((Path(__file__).parent / "asyncapi/schema-3.0.0.json.gz").read_bytes())
)


def validator(schema: str) -> Draft7Validator:
    """Return the validator of one payload schema; its references reach the whole document."""
    return Draft7Validator({**DOCUMENT, "$ref": f"#/components/schemas/{schema}"})


def unpacked(payload: bytes) -> dict[str, Any]:
    """Return a MessagePack map; bytes as the string by which AsyncAPI means binary data."""
    message: dict[str, Any] = msgspec.msgpack.decode(payload)
    return {
        key: value.decode("latin-1") if isinstance(value, bytes) else value
        for key, value in message.items()
    }


def references(node: object) -> Iterator[str]:
    if isinstance(node, dict):
        if isinstance(node.get("$ref"), str):
            yield node["$ref"]
        for value in node.values():
            yield from references(value)
    elif isinstance(node, list):
        for value in node:
            yield from references(value)


def at(reference: str) -> Any:
    node: Any = DOCUMENT
    for key in reference.removeprefix("#/").split("/"):
        node = node[key]
    return node


def keys_of(schema: str) -> set[str]:
    return set(at(f"#/components/schemas/{schema}")["properties"])


Told = dict[str, list[dict[str, Any]]]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """What the program publishes of a short simulated session, by kind of message."""
    folder = tmp_path_factory.mktemp("asyncapi")
    made = folder / "made.mcap"
    main(["simulate", "--to", str(made), "--pitches", "2", "--seed", "3"])
    core = Pipeline("mound-a", load_layout("two-plates"))
    writer = RecordingWriter(folder / "kept.mcap")
    told: Told = {kind.value: [] for kind in TopicKind}

    def take(outputs: list[Any]) -> None:
        for output in outputs:
            if message := message_of(output):
                told[message.kind].append(json.loads(message.payload))

    def health(now_ns: int, recording: RecordingWriter | None) -> None:
        state = None if recording is None else msgspec.to_builtins(recording.state())
        content = {**core.health(now_ns), "recording": state}
        told["health"].append(json.loads(health_message("mound-a", content).payload))

    health(1, None)
    for number, packet in enumerate(read_recording(made).packets()):
        if packet.topic.endswith(("/force", "/speed")):
            told[packet.topic.rpartition("/")[2]].append(unpacked(bytes(packet.payload)))
        take(core.receive(packet))
        if number % 400 == 0:
            health(packet.received_ns, writer)
    take(core.finish())
    writer.close()
    for session in ("a1", None):
        about = {"session": session, "layout": "two-plates", "started_ns": 7}
        told["session"].append(json.loads(session_message("mound-a", about).payload))
    return told


def test_the_document_is_valid_by_the_standard() -> None:
    assert STANDARD["properties"]["asyncapi"]["const"] == "3.0.0"
    Draft7Validator(STANDARD).validate(DOCUMENT)
    broken = json.loads(json.dumps(DOCUMENT))
    del broken["channels"]["force"]["messages"]["packed"]["$ref"]
    broken["channels"]["force"]["address"] = 7
    assert not Draft7Validator(STANDARD).is_valid(broken)


def test_every_reference_leads_somewhere() -> None:
    for reference in set(references(DOCUMENT)):
        assert at(reference), reference


def test_its_channels_are_the_topics() -> None:
    described = {channel["address"] for channel in DOCUMENT["channels"].values()}
    assert described == {topic("X", kind).replace("X", "{source}") for kind in TopicKind}


@pytest.mark.parametrize(
    ("kind", "schema"),
    [
        ("force", "forcePacked"),
        ("speed", "speed"),
        ("event", "footContact"),
        ("health", "health"),
        ("session", "session"),
    ],
)
def test_real_messages_are_as_described(told: Told, kind: str, schema: str) -> None:
    assert told[kind], "the session has such messages"
    for message in told[kind]:
        validator(schema).validate(message)
        assert set(message) == keys_of(schema), "nothing is undescribed"


def test_real_records_are_as_described(told: Told) -> None:
    pitches = [m for m in told["pitch"] if "number" in m]
    assert len(pitches) > 2, "also one that changed"
    for pitch in pitches:
        validator("pitch").validate(pitch)
        assert set(pitch) == keys_of("pitch")
    assert any(value is None for value in pitches[0]["metrics"].values())


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("notCounted/properties/not_counted", NotCountedReason),
        ("health/properties/deck", DeckState),
        ("health/properties/feed/properties/state", FeedState),
        ("health/properties/sentences/items/properties/level", Level),
    ],
)
def test_lists_of_words_are_complete(path: str, words: type[Any]) -> None:
    assert at(f"#/components/schemas/{path}")["enum"] == [word.value for word in words]


def test_each_reason_of_a_movement_not_counted() -> None:
    for reason in NotCountedReason:
        output = NotCounted(NotCountedRecord("mound-a", "s", reason, 7.5, "why"))
        message = message_of(output)
        assert message is not None
        payload = json.loads(message.payload)
        validator("notCounted").validate(payload)
        assert set(payload) == keys_of("notCounted")


def test_each_of_the_operators_actions() -> None:
    made: list[actions.Action] = [
        actions.ChoosePitcher(source="mound-a", t_ns=1, pitcher=""),
        actions.Reassign(source="mound-a", t_ns=1, number=3, pitcher="P03"),
        actions.Void(source="mound-a", t_ns=1, number=3, reason="slipped"),
        actions.Restore(source="mound-a", t_ns=1, number=3),
        actions.Note(source="mound-a", t_ns=1, number=3, text="new shoes"),
        actions.EnterSpeed(source="mound-a", t_ns=1, number=3, speed_mps=None),
        actions.EnterSpeed(source="mound-a", t_ns=1, number=3, speed_mps=36.2),
        actions.TakeZero(source="mound-a", t_ns=1, by="J. D."),
        actions.StartCheck(source="mound-a", t_ns=1, by="J. D."),
        actions.StartCheck(source="mound-a", t_ns=1, by="", mass_kg=20.0, at_m=(1.8, 0.3)),
        actions.GuideCheck(source="mound-a", t_ns=1, move=actions.CheckMove.BACK),
    ]
    assert {type(action) for action in made} == set(actions.Action.__args__)
    for action in made:
        validator("operator").validate(json.loads(actions.encode_action(action)))
    unknown = {"v": 1, "source": "mound-a", "t_ns": 1, "action": "erase", "number": 3}
    assert not validator("operator").is_valid(unknown)


FORCE = {"v": 1, "source": "mound-a", "stream": "s", "first_frame": 0, "t_ns": 1}
FORCE |= {"rate_hz": 200.0, "channels": 2}
SPEED = {"v": 1, "source": "mound-a", "t_ns": 1, "speed_mps": 36.2}


@pytest.mark.parametrize(
    ("schema", "message", "reason"),
    [
        ("forceListed", FORCE | {"frames": [[1.0, 2.0]]}, None),
        ("forceListed", FORCE | {"frames": [[1.0, 2e6]]}, Refusal.OUT_OF_RANGE),
        ("forceListed", FORCE | {"frames": []}, Refusal.WRONG_SHAPE),
        ("forceListed", FORCE | {"frames": [[1.0, 2.0]] * 2001}, Refusal.TOO_LARGE),
        ("forceListed", FORCE | {"frames": [[1.0, 2.0]], "v": 2}, Refusal.WRONG_VERSION),
        ("forceListed", FORCE | {"frames": [[1.0, 2.0]], "source": "a b"}, Refusal.BAD_FIELD),
        ("forceListed", FORCE | {"frames": [[1.0, 2.0]], "first_frame": -1}, Refusal.BAD_FIELD),
        ("forceListed", FORCE, Refusal.BAD_FIELD),
        ("speed", SPEED, None),
        ("speed", SPEED | {"speed_mps": 0}, Refusal.OUT_OF_RANGE),
        ("speed", SPEED | {"speed_mps": 70.5}, Refusal.OUT_OF_RANGE),
    ],
)
def test_description_and_program_refuse_the_same(
    schema: str, message: dict[str, Any], reason: Refusal | None
) -> None:
    decode = decode_speed if schema == "speed" else decode_force
    refused: Refusal | None = None
    try:
        decode(json.dumps(message).encode())
    except WireError as error:
        refused = error.reason
    assert refused == reason
    assert validator(schema).is_valid(message) == (reason is None)
