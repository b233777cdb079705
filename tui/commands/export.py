"""``moundfeed export``: a session or a recording for other programs."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput
from tui.commands.export_options import (
    c3d_arguments,
    refuse_strangers,
    table_arguments,
    trace_arguments,
)

if TYPE_CHECKING:
    from analysis.exports.sync import Sync
    from analysis.sessions.stored import StoredSession
    from stream.layout import Layout
    from stream.recording.reader import Recording


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "export",
        help="write a session as CSV, Parquet or C3D, or a recording's traces",
        description="Writes a session folder as a table (one row a pitch, with a data dictionary "
        "beside it) or as C3D files (one a pitch), or a recording's traces (each platform's force "
        "and centre of pressure, frame by frame). Pitchers appear by their codes; the files can "
        "be read by you alone.",
    )
    parser.add_argument("what", type=Path, metavar="DIR|FILE.mcap", help="session or recording")
    parser.add_argument(
        "--to",
        required=True,
        choices=("csv", "parquet", "c3d", "traces"),
        help="csv, parquet: table of pitches; c3d: a folder of files; traces: of a FILE.mcap",
    )
    parser.add_argument(
        "-o", "--out", type=Path, required=True, metavar="OUT", help="file (c3d: new folder)"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace a file that is there")
    table_arguments(parser)
    c3d_arguments(parser)
    trace_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Write what was asked for."""
    from analysis.drafts import OutputError
    from analysis.exports.errors import ExportError

    refuse_strangers(arguments)
    try:
        if arguments.to == "traces":
            _traces(arguments)
            return
        _refuse_recording(arguments)
        if arguments.to == "c3d":
            _c3d(arguments)
        else:
            _table(arguments)
    except (ExportError, OutputError) as error:
        raise BadInput(str(error)) from None


def _refuse_recording(arguments: argparse.Namespace) -> None:
    if arguments.what.is_file():
        raise BadInput(
            f"{arguments.what} is a file; --to {arguments.to} takes a session folder "
            f"('moundfeed replay {arguments.what.name} --session DIR' makes one)"
        )


def _traces(arguments: argparse.Namespace) -> None:
    from analysis.drafts import drafted_file
    from analysis.exports.frames import FrameReader, recorded_layout
    from analysis.exports.traces import write_traces
    from analysis.invented import says_invented
    from stream.files import load_layout
    from stream.recording.reader import read_recording
    from tui.commands.progress import Progress

    if arguments.what.is_dir():
        raise BadInput(f"{arguments.what} is a folder; --to traces takes one of its recordings")
    recording = read_recording(arguments.what)
    layout = load_layout(arguments.layout) if arguments.layout else recorded_layout(recording)
    tare = _zero(recording, layout, arguments.source) if arguments.tare else None
    with (
        drafted_file(arguments.out, overwrite=arguments.overwrite) as draft,
        Progress("traces", recording.path.stat().st_size) as progress,
    ):
        reader = FrameReader(recording, layout, arguments.source)
        rows = write_traces(draft, reader, tare, progress.at)
    _warn(reader.sentences())
    _say_invented(says_invented(recording))
    zero = "the zero taken off" if arguments.tare else "no zero taken off"
    print(f"{arguments.out}: {rows} frames, not filtered, {zero}.")


def _zero(recording: Recording, layout: Layout, source: str | None) -> tuple[float, ...]:
    from analysis.exports.zero import first_zero

    return first_zero(recording, layout, source)


def _table(arguments: argparse.Namespace) -> None:
    from analysis.drafts import drafted_file, refuse_taken
    from analysis.exports.columns import name_column
    from analysis.exports.tables import (
        dictionary_path,
        session_columns,
        write_csv,
        write_dictionary,
        write_parquet,
    )
    from analysis.running import is_void

    session = _session(arguments)
    columns = session_columns(session)
    if arguments.names:
        columns = (*columns, name_column(_names(arguments.names)))
    write = write_csv if arguments.to == "csv" else write_parquet
    beside = dictionary_path(arguments.out)
    refuse_taken(beside, overwrite=arguments.overwrite)
    with (
        drafted_file(arguments.out, overwrite=arguments.overwrite) as table,
        drafted_file(beside, overwrite=arguments.overwrite) as dictionary,
    ):
        write(table, columns, session.pitches)
        write_dictionary(dictionary, columns)
    _say_invented(session.invented)
    void = sum(map(is_void, session.pitches))
    names = "; with names: keep it to yourself" if arguments.names else ""
    print(
        f"{arguments.out}: {len(session.pitches)} pitches, {void} of them void{names}. "
        f"Every column is explained in {beside.name}."
    )


def _c3d(arguments: argparse.Namespace) -> None:
    from analysis.drafts import drafted_folder
    from analysis.exports.c3d_session import write_session
    from tui.commands.progress import Progress

    session = _session(arguments)
    name = session.folder.resolve().name
    sync = _sync(arguments, session)
    with (
        drafted_folder(arguments.out) as draft,
        Progress("C3D", 1000) as progress,
    ):
        summary = write_session(
            draft,
            session,
            name,
            arguments.point_rate,
            sync,
            lambda share: progress.at(round(1000 * share)),
        )
    _warn(summary.sentences)
    _say_invented(session.invented)
    print(f"{arguments.out}: {len(summary.written)} files, {summary.rates()}.")
    print(summary.sync)


def _sync(arguments: argparse.Namespace, session: StoredSession) -> Sync:
    from analysis.exports.pulses import read_pulse
    from analysis.exports.sync import by_host, by_pulse

    if arguments.sync_file is None:
        return by_host(session.recordings)
    if arguments.sync_column is None:
        raise BadInput("--sync-file needs --sync-column: the pulse's column or channel")
    if len(session.recordings) != 1:
        raise BadInput(
            f"{session.folder} has {len(session.recordings)} recordings; pulses are matched in one"
        )
    lab = read_pulse(arguments.sync_file, arguments.sync_column, arguments.sync_time)
    source, channel = session.about.source, arguments.sync_channel
    return by_pulse(session.recordings[0], session.layout, source, channel, lab)


def _names(path: Path) -> dict[str, str]:
    from stream.files import load_roster

    names = {p.code: p.name for p in load_roster(path) if p.name}
    if not names:
        raise BadInput(f"{path} has no names")
    return names


def _session(arguments: argparse.Namespace) -> StoredSession:
    from analysis.sessions.stored import read_session

    session = read_session(arguments.what, arguments.result)
    if not session.pitches:
        raise BadInput(f"{arguments.what} holds no pitches yet")
    return session


def _say_invented(invented: bool) -> None:
    from analysis.invented import SENTENCE

    if invented:
        print(SENTENCE)


def _warn(sentences: list[str]) -> None:
    for sentence in sentences:
        print(f"moundfeed: {sentence}", file=sys.stderr)
