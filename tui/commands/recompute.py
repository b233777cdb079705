"""``moundfeed recompute``: many stored sessions measured again from their recordings."""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed
from tui.commands.interrupts import held_back

if TYPE_CHECKING:
    from analysis.recompute.job import Job, Outcome

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")
#: Steps of the progress line.
_STEPS = 1000


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "recompute",
        help="measure stored sessions again: to verify them, or with other settings",
        description="Measures stored sessions again from their recordings. With nothing else it "
        "verifies: it says 'same' where every number comes out to the last bit, and what differs "
        "where not. With --settings or --layout it keeps a new named result beside the first, "
        "which is never changed. A session that cannot be measured does not stop the others; it "
        "is named at the end, and the exit code is 1.",
    )
    parser.add_argument("sessions", nargs="+", type=Path, metavar="SESSION", help="session folders")
    parser.add_argument("--settings", type=Path, metavar="FILE.toml", help="other settings")
    parser.add_argument("--layout", metavar="FILE", help="another layout (file or shipped name)")
    parser.add_argument(
        "--name",
        metavar="NAME",
        help="what the new result is called: a folder under results/ (default: the name of the "
        "settings or layout file)",
    )
    parser.add_argument(
        "--workers",
        type=_workers,
        metavar="N",
        help="processes on this computer (default: one a processor; 0 or 1: this process alone)",
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="let a Dask cluster do it: tls://HOST:PORT of its scheduler; its computers must see "
        "the session folders under the same paths",
    )
    parser.add_argument(
        "--tables",
        type=Path,
        metavar="OUT",
        help="also write each session's table as Parquet under OUT, in folders by result, mound "
        "and date",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Recompute; return 1 where something differs or failed."""
    from analysis.recompute.errors import ClusterError
    from tui.commands.progress import Progress
    from tui.commands.recomputed import Closing

    if arguments.tables and find_spec("pyarrow") is None:
        raise BadInput("--tables needs the extra packages of pip install '.[tables]'")
    name = _result_name(arguments)
    jobs = _jobs(arguments)
    closing = Closing(arguments.tables, name)
    todo = [job for job in jobs if not closing.is_needless(job)]
    by_folder = {job.folder: job for job in todo}
    try:
        with ExitStack() as stack:
            measured = _measuring(arguments, todo, stack)
            progress = stack.enter_context(Progress("recompute", _STEPS))
            for outcome in measured(lambda share: progress.at(round(_STEPS * share))):
                with held_back():
                    closing.take(by_folder[outcome.folder], outcome)
    except (ClusterError, KeyboardInterrupt) as error:
        why = str(error) or "stopped"
        raise RunFailed(f"{why}; {closing.done} of {len(jobs)} sessions are done") from None
    return closing.sum_up()


def _jobs(arguments: argparse.Namespace) -> list[Job]:
    from analysis.recompute.job import Job
    from stream.files import load_layout, load_settings, settings_text

    settings = settings_text(load_settings(arguments.settings)) if arguments.settings else None
    layout = load_layout(arguments.layout).origin_text if arguments.layout else None
    folders = dict.fromkeys(path.resolve() for path in arguments.sessions)
    return [Job(folder, settings, layout) for folder in folders]


def _result_name(arguments: argparse.Namespace) -> str | None:
    """Return the new result's name; None where stored numbers are verified."""
    given = arguments.settings or arguments.layout
    if not given:
        if arguments.name:
            raise BadInput("--name is for a new result: give --settings or --layout too")
        return None
    name: str = arguments.name or re.sub(r"[^A-Za-z0-9_-]", "-", Path(given).stem)
    if not _NAME.match(name):
        raise BadInput(f"--name {name!r}: a result's name has 1 to 64 letters, digits, - or _")
    return name


Measuring = Callable[[Callable[[float], None]], "Iterator[Outcome]"]


def _measuring(arguments: argparse.Namespace, jobs: list[Job], stack: ExitStack) -> Measuring:
    """Return what does ``jobs``; workers that it needs are ended by ``stack``."""
    workers = min(_asked(arguments.workers), len(jobs))
    if not jobs or (arguments.scheduler is None and workers <= 1):
        from analysis.recompute.here import one_by_one

        return lambda progress: one_by_one(jobs, progress)
    try:
        from analysis.recompute.cluster import cluster_at, local_processes, on_workers
    except ImportError:
        raise BadInput(
            "several workers need the extra packages of pip install '.[cluster]'; "
            "--workers 1 does without"
        ) from None
    client = stack.enter_context(
        cluster_at(arguments.scheduler) if arguments.scheduler else local_processes(workers)
    )
    return lambda progress: on_workers(client, jobs, progress)


def _asked(workers: int | None) -> int:
    return len(os.sched_getaffinity(0)) if workers is None else workers


def _workers(text: str) -> int:
    if not text.isdecimal() or int(text) > 1024:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of workers (0 to 1024)")
    return int(text)
