"""``moundfeed recompute``: many stored sessions measured again from their recordings."""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed

if TYPE_CHECKING:
    from analysis.recompute.job import Job, Outcome

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")
#: Differences of one session that are told one by one; the rest is counted.
MOST_TOLD = 20
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

    if arguments.tables and find_spec("pyarrow") is None:
        raise BadInput("--tables needs the extra packages of pip install '.[tables]'")
    name = _result_name(arguments)
    jobs = _jobs(arguments)
    closing = _Closing(arguments.tables, name)
    todo = [job for job in jobs if not closing.is_needless(job)]
    by_folder = {job.folder: job for job in todo}
    try:
        with ExitStack() as stack:
            measured = _measuring(arguments, todo, stack)
            progress = stack.enter_context(Progress("recompute", _STEPS))
            for outcome in measured(lambda share: progress.at(round(_STEPS * share))):
                closing.take(by_folder[outcome.folder], outcome)
    except (ClusterError, KeyboardInterrupt) as error:
        why = str(error) or "stopped"
        raise RunFailed(f"{why}; {closing.done} of {len(jobs)} sessions are done") from None
    return closing.sum_up()


class _Closing:
    """Takes each outcome as it comes: keeps it, says it, and remembers what is to be named."""

    def __init__(self, tables: Path | None, name: str | None) -> None:
        self._tables = tables
        self._name = name
        self.done = 0
        self._same = 0
        self._different: list[Path] = []
        self._failed: dict[Path, str] = {}

    def is_needless(self, job: Job) -> bool:
        """Whether ``job`` has its result from an earlier run, or can have none (remembered)."""
        from analysis.recompute.results import is_there
        from stream.recording.session import SessionError

        if self._name is None:
            return False
        try:
            there = is_there(job, self._name)
        except (SessionError, OSError) as error:
            self._failed[job.folder] = _why(error)
            return True
        if there and self._tables is None:
            self.done += 1
            _print(f"{_shown(job.folder)}: has the result {self._name} already")
            return True
        return False

    def take(self, job: Job, outcome: Outcome) -> None:
        """Keep and tell one session's outcome."""
        from stream.recording.session import SessionError

        try:
            self._keep(job, outcome)
        except (SessionError, OSError) as error:
            self._failed[job.folder] = _why(error)
            return
        if outcome.trouble is not None:
            self._failed[job.folder] = outcome.trouble
            return
        self.done += 1
        _print(f"{_shown(job.folder)}: {self._word(outcome)}")
        for sentence in outcome.said:
            _print(f"  {sentence}")

    def sum_up(self) -> int:
        """Say how it went in all; return the exit code."""
        if self._name is None:
            _print(f"{self._same} of {self.done} sessions measured again: same to the last bit.")
        else:
            _print(f"{self.done} sessions have the result {self._name}.")
        for folder in sorted(self._different):
            print(f"moundfeed: {_shown(folder)}: differs", file=sys.stderr)
        for folder, why in sorted(self._failed.items()):
            print(f"moundfeed: {_shown(folder)}: not measured: {why}", file=sys.stderr)
        return 1 if self._failed or self._different else 0

    def _keep(self, job: Job, outcome: Outcome) -> None:
        if outcome.about is None or outcome.pitches is None:
            return
        if self._name is not None:
            from analysis.recompute.results import is_there, keep

            if not is_there(job, self._name):
                keep(job, outcome, self._name)
        if self._tables is not None:
            from analysis.recompute.tables import write_table

            write_table(self._tables, outcome.about, outcome.pitches, self._name)

    def _word(self, outcome: Outcome) -> str:
        assert outcome.pitches is not None
        count = f"{len(outcome.pitches.records)} pitches"
        if self._name is not None:
            return f"{count}, kept as results/{self._name}"
        if not outcome.different:
            self._same += 1
            return f"same ({count})"
        self._different.append(outcome.folder)
        told = [f"\n  {what}" for what in outcome.different[:MOST_TOLD]]
        if (more := len(outcome.different) - MOST_TOLD) > 0:
            told.append(f"\n  and {more} more")
        return "differs" + "".join(told)


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


def _why(error: Exception) -> str:
    if isinstance(error, OSError):
        return f"{error.filename}: {error.strerror}"
    return str(error)


def _shown(folder: Path) -> str:
    from tui.safe_text import plain

    here = Path.cwd()
    return plain(str(folder.relative_to(here) if folder.is_relative_to(here) else folder), 300)


def _print(line: str) -> None:
    over = "\r\N{ESCAPE}[K" if sys.stdout.isatty() else ""  # the line of the progress
    print(f"{over}{line}", flush=True)


def _workers(text: str) -> int:
    if not text.isdecimal() or int(text) > 1024:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of workers (0 to 1024)")
    return int(text)
