"""What comes of each recomputed session: kept, said, and named at the end where it is due."""

from __future__ import annotations

import sys
from pathlib import Path

from analysis.recompute.job import Job, Outcome
from analysis.recompute.results import is_there, keep
from stream.recording.session import SessionError
from tui.safe_text import plain

#: Differences of one session that are told one by one; the rest is counted.
MOST_TOLD = 20


class Closing:
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
            _print(f"  {plain(sentence, 1000)}")

    def sum_up(self) -> int:
        """Say how it went in all; return the exit code."""
        if self._name is None:
            _print(f"{self._same} of {self.done} sessions measured again: same to the last bit.")
        else:
            have = "1 session has" if self.done == 1 else f"{self.done} sessions have"
            _print(f"{have} the result {self._name}.")
        for folder in sorted(self._different):
            print(f"moundfeed: {_shown(folder)}: differs", file=sys.stderr)
        for folder, why in sorted(self._failed.items()):
            print(f"moundfeed: {_shown(folder)}: not measured: {plain(why, 500)}", file=sys.stderr)
        return 1 if self._failed or self._different else 0

    def _keep(self, job: Job, outcome: Outcome) -> None:
        if outcome.about is None or outcome.began is None or outcome.pitches is None:
            return
        if self._name is not None and not is_there(job, self._name):
            keep(job, outcome, self._name)
        if self._tables is not None:
            from analysis.recompute.tables import write_table

            write_table(self._tables, outcome.about, outcome.began, outcome.pitches, self._name)

    def _word(self, outcome: Outcome) -> str:
        assert outcome.pitches is not None
        count = f"{len(outcome.pitches.records)} pitches"
        if self._name is not None:
            return f"{count}, kept as results/{self._name}"
        if not outcome.different:
            self._same += 1
            return f"same ({count})"
        self._different.append(outcome.folder)
        told = [f"\n  {plain(what, 500)}" for what in outcome.different[:MOST_TOLD]]
        if (more := len(outcome.different) - MOST_TOLD) > 0:
            told.append(f"\n  and {more} more")
        return "differs" + "".join(told)


def _why(error: Exception) -> str:
    if isinstance(error, OSError):
        return f"{error.filename}: {error.strerror}"
    return str(error)


def _shown(folder: Path) -> str:
    here = Path.cwd()
    return plain(str(folder.relative_to(here) if folder.is_relative_to(here) else folder), 300)


def _print(line: str) -> None:
    over = "\r\N{ESCAPE}[K" if sys.stdout.isatty() else ""  # the line of the progress
    print(f"{over}{line}", flush=True)
