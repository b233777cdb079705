"""How fast stored sessions are measured again, and what a second worker brings.

    python -m benchmarks.recompute [--sessions 8] [--pitches 20] [--workers 1 2]

Simulated sessions (invented) are measured in this process, then by worker
processes on Dask; their start is timed apart. The outcomes of all runs are
compared. Prints the table of the page on more than one machine.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

from analysis.recompute.cluster import local_processes, on_workers
from analysis.recompute.here import one_by_one
from analysis.recompute.job import Job, Outcome, measure_again
from stream.recording.reader import read_recording
from tui.commands.main import main as moundfeed


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=8)
    parser.add_argument("--pitches", type=int, default=20)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        jobs = [
            _stored(Path(folder), seed, arguments.pitches)
            for seed in range(1, arguments.sessions + 1)
        ]
        _run(jobs, arguments.workers)


def _stored(folder: Path, seed: int, pitches: int) -> Job:
    feed, session = folder / f"{seed}.mcap", folder / f"session-{seed}"
    with Path(os.devnull).open("w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        moundfeed(["simulate", "--to", str(feed), "--pitches", str(pitches), "--seed", str(seed)])
        moundfeed(["replay", str(feed), "--session", str(session)])
    feed.unlink()
    return Job(session)


def _run(jobs: Sequence[Job], workers: Sequence[int]) -> None:
    hours, size = _feed(jobs)
    print(f"{len(jobs)} sessions, {hours:.2f} h of feed, {size / hours / 1e6:.1f} MB an hour")
    measure_again(jobs[0])  # imports and caches
    cpu = time.process_time()
    alone, seconds = _timed(lambda: list(one_by_one(jobs, _quiet)))
    cpu = time.process_time() - cpu
    print(
        f"in this process: {seconds:.1f} s, processor {cpu:.1f} s, "
        f"{hours * 3600 / cpu:.0f} s of feed a second of processor"
    )
    for number in workers:
        begun = time.perf_counter()
        with local_processes(number) as client:
            # Every worker has done its imports before the clock runs.
            list(on_workers(client, [jobs[0]] * number * 3, _quiet))
            ready = time.perf_counter() - begun
            cpu = -_processor(client)
            found, seconds = _timed(lambda c=client: list(on_workers(c, jobs, _quiet)))  # type: ignore[misc]
            cpu += _processor(client)
        assert sorted(found, key=_folder) == sorted(alone, key=_folder)
        print(
            f"workers {number}: {seconds:.1f} s, {len(jobs) / seconds:.2f} sessions a second "
            f"(ready after {ready:.1f} s); processor {cpu:.1f} s in all"
        )


def _processor(client: Any) -> float:
    """Seconds of processor that this process and the workers have used."""
    workers: dict[str, float] = client.run(time.process_time)
    return time.process_time() + sum(workers.values())


def _timed(work: Callable[[], list[Outcome]]) -> tuple[list[Outcome], float]:
    begun = time.perf_counter()
    outcomes = work()
    return outcomes, time.perf_counter() - begun


def _feed(jobs: Sequence[Job]) -> tuple[float, int]:
    """Hours of feed and bytes of recording."""
    seconds, size = 0.0, 0
    for job in jobs:
        for path in job.folder.glob("recording-*.mcap"):
            times = [packet.received_ns for packet in read_recording(path).packets()]
            seconds += (times[-1] - times[0]) / 1e9
            size += path.stat().st_size
    return seconds / 3600, size


def _folder(outcome: Outcome) -> str:
    return str(outcome.folder)


def _quiet(share: float) -> None:
    """Progress that nobody looks at."""


if __name__ == "__main__":
    main()
