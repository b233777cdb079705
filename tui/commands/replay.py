"""``moundfeed replay``: a recording through the whole measurement again."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed

if TYPE_CHECKING:
    from stream.outputs import Output
    from stream.recording.reader import Recording
    from stream.recording.replay import Setup
    from stream.recording.session import Session
    from stream.wire import Packet

#: Different faults that are told in words; the rest is counted.
MOST_FAULTS = 10


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "replay",
        help="run a recording through the whole measurement again",
        description="Measures a recording again, as fast as it goes. With what the recording "
        "carries (layout, roster, settings) the records are the same as they were live; what is "
        "given here is used instead.",
    )
    parser.add_argument("recording", type=Path, metavar="FILE.mcap", help="the recording")
    parser.add_argument(
        "--layout", metavar="FILE", help="layout file or shipped name (default: the recording's)"
    )
    parser.add_argument("--jsonl", type=Path, metavar="OUT", help="write one JSON object a pitch")
    parser.add_argument("--pitchers", type=Path, metavar="roster.csv", help="the roster")
    parser.add_argument("--pitcher", metavar="P03", help="who throws first")
    parser.add_argument("--settings", type=Path, metavar="FILE.toml", help="measurement settings")
    parser.add_argument("--source", metavar="NAME", help="measure this mound only (default: all)")
    parser.add_argument(
        "--session",
        type=Path,
        metavar="DIR",
        help="keep everything in a new session folder: a copy of the recording and the records",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Replay without a screen, as fast as it goes."""
    from stream.files import load_layout, load_roster, load_settings
    from stream.recording.reader import read_recording
    from stream.recording.replay import setup_of

    recording = read_recording(arguments.recording)
    setup = setup_of(
        recording,
        layout=load_layout(arguments.layout) if arguments.layout else None,
        settings=load_settings(arguments.settings) if arguments.settings else None,
        roster=load_roster(arguments.pitchers) if arguments.pitchers else None,
        pitcher=arguments.pitcher,
    )
    _measure(_Results(arguments, recording, setup), recording, setup, arguments.source)


def _measure(results: _Results, recording: Recording, setup: Setup, only: str | None) -> None:
    from stream.recording.replay import Mounds
    from tui.commands.progress import Progress

    mounds = Mounds(setup, only)
    first_ns = last_ns = 0
    with Progress("replay", recording.path.stat().st_size) as progress:
        for batch in recording.batches():
            first_ns, last_ns = first_ns or batch[0].received_ns, batch[-1].received_ns
            results.take(batch, mounds.receive_many(batch))
            progress.at(recording.report.offset)
    results.take([], mounds.finish())
    results.close()
    if not mounds.cores:
        wanted = f" of {only!r}" if only else ""
        raise BadInput(f"{recording.path.name} holds no feed{wanted}")
    for sentence in _warnings(recording, results.faults):
        print(f"moundfeed: {sentence}", file=sys.stderr)
    minutes = (last_ns - first_ns) / 60e9
    print(
        f"{results.pitches} pitches and {results.not_counted} movements not counted "
        f"in {minutes:.1f} minutes of recording."
    )


def _warnings(recording: Recording, faults: Counter[str]) -> Iterator[str]:
    """Yield what a user must know of the recording before trusting the result."""
    if recording.head_damage:
        yield (
            "The beginning of the recording is damaged; what it said of layout, settings, roster "
            "or first pitcher may be missing. Give them with --layout, --settings, --pitchers."
        )
    if recording.truncated:
        yield "The recording was not closed (a crash or power cut); it ends with what was saved."
    yield from recording.report.sentences()
    for say, times in faults.most_common(MOST_FAULTS):
        yield say if times == 1 else f"{say} ({times} times)"
    rest = sum(faults.values()) - sum(times for _, times in faults.most_common(MOST_FAULTS))
    if rest:
        yield f"{rest} more faults of the feed."


class _Results:
    """Where the results go: JSON Lines, a session folder, lines on the terminal."""

    def __init__(self, arguments: argparse.Namespace, recording: Recording, setup: Setup) -> None:
        from stream.sinks.jsonl import JsonLinesSink, LineFile
        from tui.commands.lines import Lines

        self.pitches = self.not_counted = 0
        self.faults: Counter[str] = Counter()
        self._jsonl: JsonLinesSink | None = None
        self._session: Session | None = None
        if arguments.jsonl:
            if not arguments.jsonl.absolute().parent.is_dir():
                raise BadInput(f"{arguments.jsonl}: there is no folder {arguments.jsonl.parent}")
            self._jsonl = JsonLinesSink(LineFile(arguments.jsonl, fresh=True))
        if arguments.session:
            self._session = _new_session(arguments, recording, setup)
        silent = (arguments.jsonl or arguments.session) and not sys.stdout.isatty()
        self._lines = None if silent else Lines()

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


def _new_session(arguments: argparse.Namespace, recording: Recording, setup: Setup) -> Session:
    import shutil

    from stream.files import settings_text
    from stream.recording.durable import owner_only_file
    from stream.recording.session import Session
    from stream.wire import parse_topic

    if (arguments.session / "session.json").exists():
        raise BadInput(
            f"{arguments.session} is a session already; 'moundfeed recompute' measures it again"
        )
    sources = {parse_topic(topic)[0] for topic in {p.topic for p in recording.packets()}}
    wanted = {arguments.source} if arguments.source else sources
    if len(wanted) != 1 or not wanted <= sources:
        raise BadInput(
            f"{recording.path.name} holds the mounds {', '.join(sorted(sources)) or '(none)'}; "
            "a session keeps one: name it with --source"
        )
    session = Session.create(
        arguments.session,
        source=wanted.pop(),
        layout_text=setup.layout.origin_text,
        settings_text=settings_text(setup.settings),
        roster=setup.roster,
    )
    _, path = session.next_recording()
    with recording.path.open("rb") as source, owner_only_file(path) as copy:
        shutil.copyfileobj(source, copy)
    session.add_log("replayed", {"recording": path.name, "copy_of": recording.path.name})
    return session


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
