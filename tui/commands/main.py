"""The command line: finds the subcommand and imports that one only.

A subcommand is a module in this folder with ``add_parser(subparsers)``; it
adds its own parser and sets ``run`` (``set_defaults(run=...)``), a function of
the parsed arguments that returns an exit code or None. Exit codes: 0 done, 1
the run failed, 2 wrong use or bad input; an error is one line on stderr.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from importlib.util import find_spec
from typing import NoReturn

from tui.commands.errors import BadInput, RunFailed

#: Name, module in this folder, and what ``moundfeed --help`` says of it.
COMMANDS = (
    ("demo", "demo", "show a simulated bullpen session on the screen"),
    ("simulate", "simulate", "play a simulated mound: to a monitor, a broker or a recording"),
    ("watch", "watch", "the screen: follow a session live, pitch by pitch"),
    ("log", "log", "record and measure a live feed without a screen"),
    ("replay", "replay", "run a recording through the whole measurement again"),
    ("check", "check", "the set-up check: is this mound ready to measure?"),
    ("review", "review", "look back at stored sessions: pitches, metrics, curves, days"),
    ("report", "report", "write a session's report as one HTML file"),
    ("export", "export", "write a session as CSV, Parquet or C3D"),
    ("import", "import_", "turn a CSV or C3D file into a recording and a layout"),
    ("study", "study", "statistics over many pitches: effects, reliability, agreement"),
    ("serve", "serve", "offer the screen to a browser"),
    ("recompute", "recompute", "measure a session's recordings again with other settings"),
    ("keys", "keys", "make the keys that let only known programs on a ZeroMQ feed"),
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    parser = _parser(_named(arguments))
    options, unknown = parser.parse_known_args(arguments)
    if unknown:
        # Said by the command whose help has the options, not by the program's list of commands.
        parser.prog = " ".join(filter(None, (parser.prog, _named(arguments))))
        parser.error(f"no such option: {' '.join(unknown)}")
    if options.run is None:
        from tui.commands.first_steps import TO_BEGIN

        parser.print_help()
        print(f"\n{TO_BEGIN}")
        return 0
    try:
        code: int | None = options.run(options)
        sys.stdout.flush()
        return code or 0
    except BrokenPipeError:
        # Whoever read our output has gone; nothing more can be said on it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except (Exception, KeyboardInterrupt) as error:
        if os.environ.get("MOUNDFEED_DEBUG"):
            raise
        print(f"moundfeed: {' '.join(_sentence(error).split())}", file=sys.stderr)
        return 2 if _is_input(error) else 1


def _sentence(error: BaseException) -> str:
    match error:
        case _ if _is_input(error) or isinstance(error, RunFailed):
            return str(error)
        case KeyboardInterrupt():
            return "stopped before it was done"
        case OSError(filename=str(name), strerror=str(why)):
            return f"{name}: {why}"
        case _:
            return (
                f"an error in the program itself ({type(error).__name__}: {error}); "
                "run it again with MOUNDFEED_DEBUG=1 to see where"
            )


def _named(arguments: Sequence[str]) -> str | None:
    return next((word for word in arguments if not word.startswith("-")), None)


def _parser(wanted: str | None) -> argparse.ArgumentParser:
    """Return the parser in which only the ``wanted`` subcommand is complete."""
    parser = _Parser(
        prog="moundfeed",
        description="Real-time monitor for bullpen sessions on a force-instrumented mound.",
        epilog="'moundfeed COMMAND --help' explains a command.",
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and stop")
    parser.set_defaults(run=None)
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND")
    for name, module, say in COMMANDS:
        if find_spec(f"tui.commands.{module}") is None:
            continue
        if name == wanted:
            import_module(f"tui.commands.{module}").add_parser(subparsers)
        else:
            subparsers.add_parser(name, help=say)
    return parser


def _is_input(error: BaseException) -> bool:
    """Whether ``error`` is of those that the readers of inputs raise, each with its sentence."""
    from stream.access.address import AddressError
    from stream.access.options import OptionsError
    from stream.access.secrets import SecretError
    from stream.files import FileError
    from stream.recording.session import SessionError

    kinds = (BadInput, AddressError, OptionsError, SecretError, FileError, SessionError)
    return isinstance(error, kinds)


class _Version(argparse.Action):
    """Reads the installed version only when asked: the metadata is slow to open."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"moundfeed {version('moundfeed')}")
        parser.exit()


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message} (see '{self.prog} --help')\n")


if __name__ == "__main__":
    raise SystemExit(main())
