"""Where the results of a replay without a screen go."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed
from tui.commands.recorded import Recorded
from tui.commands.screen import units_of

if TYPE_CHECKING:
    from pathlib import Path

    from stream.outputs import Output
    from stream.recording.session import Session
    from stream.wire import Packet


class Results:
    """Where the results go: JSON Lines, a session folder, lines on the terminal."""

    def __init__(self, arguments: argparse.Namespace, opened: list[Recorded]) -> None:
        from stream.sinks.jsonl import JsonLinesSink, LineFile
        from tui.commands.lines import Lines

        self.pitches = self.not_counted = 0
        self.faults: Counter[str] = Counter()
        self._jsonl: JsonLinesSink | None = None
        self._session: Session | None = None
        if arguments.jsonl:
            if not arguments.jsonl.absolute().parent.is_dir():
                raise BadInput(f"{arguments.jsonl}: there is no folder {arguments.jsonl.parent}")
            self._jsonl = JsonLinesSink(LineFile(arguments.jsonl, fresh=True, sync_each=False))
        if arguments.session:
            self._session = _new_session(arguments, opened)
        silent = (arguments.jsonl or arguments.session) and not sys.stdout.isatty()
        self._lines = None if silent else Lines(units_of(arguments))

    def take(self, packets: list[Packet], outputs: list[Output]) -> None:
        """Take a batch of the recording and what came of it."""
        from stream.outputs import Fault, NotCounted, PitchClosed

        if self._session is not None:
            _log_actions(self._session, packets)
        for output in outputs:
            match output:
                case PitchClosed():
                    self.pitches += 1
                case NotCounted():
                    self.not_counted += 1
                case Fault(say=say):
                    self.faults[say] += 1
                case _:
                    pass
            if self._session is not None and isinstance(output, PitchClosed | NotCounted):
                self._session.add_record(output.record)
            for line in self._lines.of(output) if self._lines else ():
                print(line)
        if self._jsonl is not None:
            self._jsonl.take(outputs)

    def close(self) -> None:
        """Close the files; raise RunFailed where one lacks something."""
        complete = self._jsonl is None or self._jsonl.lines.close()
        if self._session is not None:
            complete = self._session.close() and complete
        if not complete:
            raise RunFailed("not all results could be written: is the disk full?")


def _new_session(arguments: argparse.Namespace, opened: list[Recorded]) -> Session:
    from stream.files import settings_text
    from stream.recording.session import Session
    from stream.wire import parse_topic

    if (arguments.session / "session.json").exists():
        raise BadInput(
            f"{arguments.session} is a session already; 'moundfeed recompute' measures it again"
        )
    topics = {packet.topic for item in opened for packet in item.recording.packets()}
    sources = {parse_topic(topic)[0] for topic in topics}
    wanted = {arguments.source} if arguments.source else sources
    if len(wanted) != 1 or not wanted <= sources:
        raise BadInput(
            f"{arguments.recording.name} holds the mounds {', '.join(sorted(sources)) or '(none)'};"
            " a session keeps one: name it with --source"
        )
    setup = opened[0].setup
    session = Session.create(
        arguments.session,
        source=wanted.pop(),
        layout_text=setup.layout.origin_text,
        settings_text=settings_text(setup.settings),
        roster=setup.roster,
    )
    given = [name for name in _GIVEN if getattr(arguments, name) is not None]
    for item in opened:
        _, path = session.next_recording()
        detail = {"recording": path.name, "copy_of": item.recording.path.name}
        if given:
            _copy_with(item, path)
            detail["with_another"] = ", ".join(given)
        else:
            _copy(item.recording.path, path)
        session.add_log("replayed", detail)
    return session


#: Options that take the place of what a recording carries.
_GIVEN = ("layout", "settings", "pitchers", "pitcher")


def _copy(original: Path, path: Path) -> None:
    import shutil

    from stream.recording.durable import owner_only_file

    with original.open("rb") as source, owner_only_file(path) as copy:
        shutil.copyfileobj(source, copy)


def _copy_with(item: Recorded, path: Path) -> None:
    """Write the recording's messages with what they were measured with now.

    A session's numbers come out of its own recordings again; with the old layout, settings,
    roster or pitcher in them others would.
    """
    from stream.files import settings_text
    from stream.recording.plain import PlainWriter
    from stream.recording.start import METADATA_NAME

    recording, setup = item
    with PlainWriter(
        path,
        extra_metadata={
            **recording.metadata,
            "layout": {"toml": setup.layout.origin_text},
            "settings": {"toml": settings_text(setup.settings)},
            "roster": {"csv": setup.roster.coded().to_csv()},
            METADATA_NAME: setup.start.to_metadata(),
        },
    ) as writer:
        for packet in recording.packets():
            writer.write(packet)


def _log_actions(session: Session, packets: list[Packet]) -> None:
    """Put the operator's recorded actions into the session's log, at their own times."""
    import msgspec

    from stream.actions import decode_action
    from stream.wire import TopicKind, WireError, topic

    operator = topic(session.about.source, TopicKind.OPERATOR)
    for packet in packets:
        if packet.topic == operator:
            try:
                action = decode_action(packet.payload)
            except WireError:
                continue  # the core has counted it as a fault
            session.add_log("action", msgspec.to_builtins(action))
