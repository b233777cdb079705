"""``moundfeed report``: a session's report as one HTML file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tui.commands.errors import BadInput
from tui.commands.first_steps import no_session


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "report",
        help="write a session's report as one HTML file",
        description="Writes what a session measured as one HTML file that needs nothing from "
        "outside: pitches, curves, trends, scatter, what was left out and why. Several sessions "
        "are put side by side. Codes only; descriptive feedback, not medical advice.",
    )
    parser.add_argument("folder", nargs="+", type=Path, metavar="DIR", help="session folder")
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE.html", help="the file to write"
    )
    parser.add_argument(
        "--join",
        type=Path,
        metavar="FILE.csv",
        help="other measurements (ball speed, joint moments, ...), joined by a column 'pitch' or "
        "'time'; one session only",
    )
    parser.add_argument(
        "--result", metavar="NAME", help="a result of 'recompute' (default: the first measurement)"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace a file that is there")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Write the report."""
    from analysis.drafts import OutputError, drafted_file, refuse_taken
    from analysis.report.gather import gather
    from analysis.report.report import html, lacking
    from analysis.sessions.join_file import read_join
    from tui.commands.progress import Progress

    folders = arguments.folder
    if len({folder.resolve() for folder in folders}) < len(folders):
        raise BadInput("a session is named twice")
    if arguments.join is not None and len(folders) > 1:
        raise BadInput("--join takes one session: pitch numbers begin anew in each")
    for folder in folders:
        if said := no_session(folder, "moundfeed report", " -o report.html"):
            raise BadInput(said)
    output = arguments.output
    try:
        # Said before the measuring, which takes long.
        refuse_taken(output, overwrite=arguments.overwrite)
    except OutputError as error:
        raise BadInput(str(error)) from None
    table = None if arguments.join is None else read_join(arguments.join)
    with Progress("report", 1000) as progress:
        parts = gather(
            folders, arguments.result, table, lambda share: progress.at(round(1000 * share))
        )
    text = html(parts)
    with drafted_file(output, overwrite=arguments.overwrite) as draft:
        draft.write_bytes(text.encode())
    for sentence in lacking(parts):
        print(f"moundfeed: {sentence}", file=sys.stderr)
    pitches = sum(len(part.pitches) for part in parts)
    print(f"{output}: {pitches} pitches, {len(text.encode()) / 1e6:.1f} MB")
