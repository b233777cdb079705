"""Arguments that every command with a live feed shares."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stream.access.options import ConnectionOptions

_NAMES = ("qos", "ca_file", "password_file", "keys", "source")


def add_connection_arguments(parser: argparse.ArgumentParser) -> None:
    """Add how to connect: a file of options, and each option by itself."""
    group = parser.add_argument_group("connection")
    group.add_argument(
        "--connection", type=Path, metavar="FILE.toml", help="read the options below from a file"
    )
    group.add_argument("--source", metavar="NAME", help="follow this mound only (default: all)")
    group.add_argument(
        "--qos", type=int, choices=(0, 1, 2), help="MQTT quality of service (default: 1)"
    )
    group.add_argument("--ca-file", metavar="FILE", help="certificates to trust for mqtts://")
    group.add_argument(
        "--password-file",
        metavar="FILE",
        help="file, readable by you alone, with the broker's password "
        "(or set MOUNDFEED_MQTT_PASSWORD)",
    )
    group.add_argument(
        "--keys", metavar="DIR", help="folder made by 'moundfeed keys' for this computer (tcp://)"
    )


def connection_options(arguments: argparse.Namespace) -> ConnectionOptions:
    """Return the options: those on the command line before those in the file."""
    from stream.access.options import options_from_mapping, read_options

    table: dict[str, Any] = {}
    if arguments.connection is not None:
        table.update(read_options(arguments.connection))
    for name in _NAMES:
        value = getattr(arguments, name)
        if value is not None:
            table[name] = value
    for name in ("ca_file", "password_file", "keys"):
        if name in table:
            table[name] = str(Path(table[name]).absolute())
    return options_from_mapping(table)
