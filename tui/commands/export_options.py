"""The options of ``moundfeed export`` that belong to one kind of output only."""

from __future__ import annotations

import argparse
from pathlib import Path

from tui.commands.errors import BadInput

_SESSION, _TABLES, _C3D, _TRACES = (
    ("csv", "parquet", "c3d"),
    ("csv", "parquet"),
    ("c3d",),
    ("traces",),
)
#: Where each option says something; elsewhere it would be passed over in silence.
_OF = {
    "result": _SESSION,
    "names": _TABLES,
    "point_rate": _C3D,
    "sync_file": _C3D,
    "sync_column": _C3D,
    "sync_channel": _C3D,
    "layout": _TRACES,
    "source": _TRACES,
    "tare": _TRACES,
}


def refuse_strangers(arguments: argparse.Namespace) -> None:
    """Raise :class:`BadInput` for an option that the chosen output does not have."""
    if arguments.to == "c3d" and arguments.names:
        raise BadInput("C3D files carry codes, never names; leave --names out")
    for name, kinds in _OF.items():
        if arguments.to not in kinds and getattr(arguments, name) not in (None, False):
            option = "--" + name.replace("_", "-")
            raise BadInput(f"{option} is for --to {' or '.join(kinds)}, not for {arguments.to}")
    if arguments.to == "c3d" and arguments.sync_file is None:
        for name in ("sync_column", "sync_channel"):
            if getattr(arguments, name) is not None:
                raise BadInput(f"--{name.replace('_', '-')} needs --sync-file")


def table_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what concerns a session."""
    add = parser.add_argument_group("a session").add_argument
    add("--result", metavar="NAME", help="a named result of the session, not the first measurement")
    add(
        "--names",
        type=Path,
        metavar="ROSTER.csv",
        help="also a column of names from this roster (tables only; personal data)",
    )


def c3d_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what concerns C3D files."""
    add = parser.add_argument_group("C3D").add_argument
    add(
        "--point-rate",
        type=float,
        metavar="HZ",
        help="of the motion capture that the files stand beside (default: the feed's own rate)",
    )
    add(
        "--sync-file",
        type=Path,
        metavar="LAB",
        help="the motion capture's CSV or C3D with the pulse that the mound also recorded",
    )
    add("--sync-column", metavar="COL", help="the pulse in LAB: column, or analog channel")
    add("--sync-time", metavar="COL", default="t_s", help="seconds in a CSV LAB (t_s)")
    add("--sync-channel", metavar="NAME", help="the pulse in the layout's [spare], if of several")


def trace_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what concerns traces."""
    add = parser.add_argument_group("traces").add_argument
    add("--layout", metavar="FILE", help="layout file or shipped name (default: the recording's)")
    add("--source", metavar="NAME", help="this mound, where the recording holds several")
    add("--tare", action="store_true", help="take off the empty deck's zero")
