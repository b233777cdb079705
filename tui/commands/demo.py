"""``moundfeed demo``: an invented bullpen session on the real screen.

Three processes on this computer, as in a bullpen: a simulated device sends
over ZeroMQ on the loopback, a monitor receives and records, the screen looks
on. No broker, no account, nothing leaves the computer.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed
from tui.commands.screen import add_screen_arguments, show
from tui.notices import DEMO_NOTICE

if TYPE_CHECKING:
    from stream.layout import Layout
    from stream.roster import Roster

_END_S = 5.0


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "demo",
        help="show a simulated bullpen session on the screen",
        description="Plays an invented bullpen session on this computer and shows it live, pitch "
        "by pitch. Everything on the screen is made up. Press ? on the screen for help, q to end.",
    )
    parser.add_argument("--pitches", type=_count, default=40, metavar="N", help="how many (40)")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="which session (1)")
    parser.add_argument("--layout", default="two-plates", metavar="FILE",
                        help="the mound (two-plates)")  # fmt: skip
    parser.add_argument(
        "--pace",
        choices=("quick", "true"),
        default="quick",
        help="pauses between pitches: short ones, or as long as in a bullpen (quick)",
    )
    parser.add_argument(
        "--session",
        type=Path,
        metavar="DIR",
        help="keep the session in this new folder (otherwise it is thrown away at the end)",
    )
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Run device, monitor and screen; end the first two with the last."""
    from simulators.scenario import NOTE
    from stream.files import load_layout
    from stream.monitor.plan import Plan
    from stream.monitor.presence import RuntimeFolderError, runtime_folder
    from stream.monitor.process import MonitorError, start_monitor, stop_monitor
    from stream.monitor.viewer import ViewerLink

    layout = load_layout(arguments.layout)
    with _folder(arguments.session) as folder:
        roster = _roster(arguments, layout)
        feed = f"tcp://127.0.0.1:{free_port()}"
        plan = Plan(
            feed=feed,
            layout=layout.origin_text,
            roster=roster.to_csv(),
            pitcher=roster.pitchers[0].code,
            session=str(folder.absolute()),
            scenario=NOTE,
            owner=os.getpid(),
        )
        with _device(arguments, feed):
            try:
                runtime = runtime_folder(folder)
                start_monitor(plan, runtime)
                try:
                    show(arguments, lambda: ViewerLink(runtime), layout, roster, notice=DEMO_NOTICE)
                finally:
                    stop_monitor(runtime)
            except (MonitorError, RuntimeFolderError) as error:
                raise RunFailed(str(error)) from error


@contextmanager
def _folder(session: Path | None) -> Iterator[Path]:
    if session is not None:
        if session.exists() and any(session.iterdir()):
            raise BadInput(f"{session} is not empty; name a new folder")
        yield session
        return
    with tempfile.TemporaryDirectory(prefix="moundfeed-demo-") as folder:
        yield Path(folder) / "session"


@contextmanager
def _device(arguments: argparse.Namespace, feed: str) -> Iterator[None]:
    """Run the simulated device in a process of its own."""
    command = [sys.executable, "-m", "tui.commands.main", "simulate", "--to", feed]
    command += ["--layout", arguments.layout, "--seed", str(arguments.seed)]
    command += ["--pitches", str(arguments.pitches), "--pitchers", "1"]
    command += ["--owner", str(os.getpid())]
    if arguments.pace == "quick":
        command.append("--quick")
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as process:
        try:
            yield
        finally:
            process.terminate()
            try:
                process.wait(_END_S)
            except subprocess.TimeoutExpired:
                process.kill()


def _roster(arguments: argparse.Namespace, layout: Layout) -> Roster:
    """Return the invented pitcher, the same as the device's: the seed draws him first."""
    from simulators.scenario import Plan, compose

    return compose(Plan(seed=arguments.seed, pitches=1, pitchers=1), layout.deck).roster


def free_port() -> int:
    """Return a port of the loopback that nobody listens on."""
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of pitches")
    return int(text)
