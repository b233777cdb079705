"""``moundfeed keys``: keys for a ZeroMQ feed that only known programs may join."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "keys",
        help="make the keys that let only known programs on a ZeroMQ feed",
        description="Makes keys so that a ZeroMQ feed lets in only programs that it knows, and "
        "they know it. DIR/server is for the program that listens (the device). DIR/NAME is for "
        "one computer that connects: copy that folder there, and nothing else. Run it again with "
        "another --client to let one more in.",
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="where to write the keys")
    parser.add_argument(
        "--client",
        action="append",
        metavar="NAME",
        help="a computer to let in; may be given several times (default: monitor)",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Make the keys and say where they are."""
    from stream.access.curve import make_keys

    for folder in make_keys(arguments.folder, arguments.client or ["monitor"]):
        print(f"made {folder}")
