"""Sessions as the monitor would have left them, from simulated recordings (invented data)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import msgspec

from stream.actions import Action, decode_action, encode_action
from stream.files import settings_text
from stream.outputs import NotCounted, Output, Pitch, PitchClosed
from stream.pipeline import Pipeline
from stream.recording.plain import PlainWriter
from stream.recording.reader import Recording
from stream.recording.replay import setup_of
from stream.recording.session import Session
from stream.recording.start import METADATA_NAME, RunStart
from stream.wire import Packet, TopicKind, topic

SOURCE = "mound-a"
OPERATOR = topic(SOURCE, TopicKind.OPERATOR)
Acts = Mapping[int, Sequence[Action]]


def keep_live(
    folder: Path, recording: Recording, parts: Sequence[Sequence[Packet]], acts: Acts
) -> None:
    """Make a session of one run of the monitor for each of ``parts``.

    ``acts[n]`` is what the operator does at the moment pitch n is told.
    """
    for part in parts:
        _keep_run(folder, recording, part, acts)


def _keep_run(folder: Path, recording: Recording, packets: Sequence[Packet], acts: Acts) -> None:
    setup = setup_of(recording)
    session = Session.open_or_create(
        folder,
        source=SOURCE,
        layout_text=setup.layout.origin_text,
        settings_text=settings_text(setup.settings),
        roster=setup.roster,
    )
    number, path = session.next_recording()
    start = RunStart(source=SOURCE, recording=number, first_number=session.next_number())
    core = Pipeline(
        SOURCE, setup.layout, setup.settings, setup.roster, first_number=start.first_number
    )
    with PlainWriter(
        path,
        layout_text=setup.layout.origin_text,
        roster_csv=setup.roster.to_csv(),
        settings_text=settings_text(setup.settings),
        extra_metadata={METADATA_NAME: start.to_metadata()},
    ) as writer:

        def take(packet: Packet) -> None:
            writer.write(packet)
            if packet.topic == OPERATOR:
                keep_action(session, decode_action(packet.payload))
            told(core.receive(packet))

        def told(outputs: Sequence[Output]) -> None:
            for output in outputs:
                if isinstance(output, PitchClosed | NotCounted):
                    session.add_record(output.record)
                if isinstance(output, Pitch):
                    for action in acts.get(output.record.number, ()):
                        take(Packet(OPERATOR, encode_action(action), action.t_ns))

        for packet in packets:
            take(packet)
        told(core.finish())
    assert session.close()


def keep_action(session: Session, action: Action) -> None:
    """Log an action as the monitor and the review do."""
    session.add_log("action", msgspec.to_builtins(action))
