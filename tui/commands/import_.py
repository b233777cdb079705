"""``moundfeed import``: another program's CSV or C3D file as a recording and a layout."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput

if TYPE_CHECKING:
    from analysis.imports.feed import ForeignFeed


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "import",
        help="turn a CSV or C3D file into a recording and a layout",
        description="Turns force-platform data of another program into a recording, and the "
        "platforms into a layout; 'moundfeed replay FILE.mcap' then measures it at its own rate "
        "(100 to 2,000 Hz). Every assumption that is made is told, and can be stated instead.",
    )
    parser.add_argument("file", type=Path, metavar="FILE.csv|FILE.c3d", help="the file to read")
    parser.add_argument(
        "-o", "--out", type=Path, required=True, metavar="FILE.mcap", help="the new recording"
    )
    parser.add_argument(
        "--layout-out", type=Path, required=True, metavar="LAYOUT.toml", help="the new layout"
    )
    parser.add_argument(
        "--source", default="imported", metavar="NAME", help="name of the mound (imported)"
    )
    parser.add_argument(
        "--overwrite", action="store_true", help="replace a LAYOUT.toml that is there"
    )
    _csv_arguments(parser)
    _c3d_arguments(parser)
    parser.set_defaults(run=run)


def _csv_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("CSV").add_argument
    add(
        "--mapping",
        type=Path,
        metavar="MAP.toml",
        help="which column is what (format: docs/exports.md). Without it: FILE.map.toml beside the "
        "file, or the columns of 'export --to traces'",
    )
    add("--layout", metavar="FILE", help="layout of the traces (default: the shipped one they fit)")


def _c3d_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("C3D").add_argument
    add("--up", metavar="AXIS", help="the file's axis that points up: z, y, -y, ...")
    add("--forward", metavar="AXIS", help="the file's axis that points to home plate: x, -x, ...")
    add(
        "--rubber",
        type=_point,
        metavar="X,Y,Z",
        help="the middle of the rubber's front edge, at its top, in the file's axes, m (0,0,0)",
    )
    add(
        "--sense",
        choices=("reaction", "action"),
        help="what the channels hold (default: seen from the sign of the weight)",
    )
    add("--length-unit", metavar="UNIT", help="mm, cm, m or in (default: what the file says)")
    add("--moment-unit", metavar="UNIT", help="Nm, Nmm, ... (default: what the file says)")
    add("--sync", metavar="LABEL", help="also keep this analog channel, a synchronisation pulse")


def _point(text: str) -> tuple[float, float, float]:
    try:
        x, y, z = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not X,Y,Z in m") from None
    return x, y, z


def run(arguments: argparse.Namespace) -> None:
    """Read the file and write the recording and the layout."""
    from analysis.drafts import OutputError, drafted_file
    from analysis.imports.errors import ImportRefusedError
    from analysis.imports.feed import check_feed, write_recording
    from stream.files import parse_layout
    from stream.wire import WireError, check_source

    if arguments.out.exists():
        raise BadInput(f"{arguments.out} is there already; a recording is never overwritten")
    try:
        check_source(arguments.source)
        with (
            drafted_file(arguments.layout_out, overwrite=arguments.overwrite) as layout_draft,
            drafted_file(arguments.out, made=False) as draft,
        ):
            feed = _read(arguments)
            check_feed(feed)
            text = feed.layout_text()
            parse_layout(text, f"the platforms of {arguments.file.name}")
            layout_draft.write_text(text, encoding="utf-8")
            frames = write_recording(draft, feed, arguments.source, text)
    except (ImportRefusedError, OutputError) as error:
        raise BadInput(str(error)) from None
    except WireError as error:
        raise BadInput(error.detail) from None
    for note in feed.notes:
        print(note)
    missing = int(feed.missing.sum())
    count = "1 platform" if len(feed.platforms) == 1 else f"{len(feed.platforms)} platforms"
    gaps = f", {missing} frames missing" if missing else ""
    print(
        f"{arguments.out}: {frames} frames at {feed.rate_hz:g} Hz{gaps}; "
        f"{count} in {arguments.layout_out}."
    )


def _read(arguments: argparse.Namespace) -> ForeignFeed:
    from analysis.imports.errors import ImportRefusedError

    if not arguments.file.is_file():
        raise BadInput(f"there is no file {arguments.file}")
    match arguments.file.suffix.lower():
        case ".c3d":
            from analysis.imports.c3d import C3DOptions, read_c3d_feed

            names = ("up", "forward", "sense", "length_unit", "moment_unit", "sync")
            stated = {name: getattr(arguments, name) for name in names}
            return read_c3d_feed(arguments.file, C3DOptions(rubber_m=arguments.rubber, **stated))
        case ".csv" | ".txt" | ".tsv":
            return _read_csv(arguments)
        case other:
            raise ImportRefusedError(
                f"{arguments.file.name}: files ending in .csv or .c3d are read, not {other!r}"
            )


def _read_csv(arguments: argparse.Namespace) -> ForeignFeed:
    from dataclasses import replace

    from analysis.imports.csv_feed import own_traces, read_csv_feed
    from analysis.imports.mapping import load_mapping
    from stream.files import load_layout, shipped_layouts
    from tui.commands.progress import Progress

    beside = arguments.file.with_suffix(".map.toml")
    layout = None
    if arguments.mapping or beside.is_file():
        mapping = load_mapping(arguments.mapping or beside)
    else:
        names = [arguments.layout] if arguments.layout else sorted(shipped_layouts())
        mapping, layout = own_traces(arguments.file, [load_layout(name) for name in names])
    with Progress("import", arguments.file.stat().st_size) as progress:
        feed = read_csv_feed(arguments.file, mapping, progress.at)
    if layout is None:
        return feed
    note = f"Recognised as traces of the layout {layout.name!r}."
    return replace(feed, notes=(note, *feed.notes))
