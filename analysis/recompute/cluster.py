"""Jobs on several processes of this computer, or on a Dask cluster of many computers.

Only this module imports Dask. A job writes nothing and depends on its session
alone, so whatever the number of workers the outcomes are the same, and a job
whose worker died is simply done again by another.
"""

from __future__ import annotations

import logging
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from itertools import islice

import dask
from distributed import Client, Future, KilledWorker, LocalCluster, as_completed
from distributed.security import Security

from analysis.recompute.errors import ClusterError
from analysis.recompute.job import Job, Outcome, defect, measure_again

#: Jobs handed over for each thread of the workers: enough that none waits for this process.
AHEAD = 3
#: Workers of this computer that may die under one job until it is suspected of killing them.
DEATHS = 1
#: How long to wait for a cluster's scheduler to answer.
CONNECT_S = 20

_KILLS = "one worker after the other died while measuring it; is there enough memory?"


@contextmanager
def local_processes(workers: int) -> Iterator[Client]:
    """Start ``workers`` processes here and end them afterwards.

    Whoever reaches a worker's port can make it run anything: the connections
    are of this run only, by keys made for it, and on the loopback alone.
    """
    security = Security.temporary()
    with (
        dask.config.set(
            {
                "distributed.scheduler.allowed-failures": DEATHS,
                # On a busy computer a process needs long to begin again; it must not be given up.
                "distributed.deploy.lost-worker-timeout": "1 hour",
            }
        ),
        LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address=None,
            security=security,
            silence_logs=logging.CRITICAL,
        ) as cluster,
        Client(cluster, security=security) as client,
    ):
        client.register_worker_callbacks(_leave_interrupts)
        yield client


def _leave_interrupts() -> None:
    """Ctrl-C reaches every process of a terminal; this one alone answers it, and ends the rest."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def cluster_at(address: str) -> Iterator[Client]:
    """Connect to the scheduler at ``address``; raise :class:`ClusterError`.

    For ``tls://`` the keys are those of the user's own Dask configuration.
    """
    try:
        client = Client(address, timeout=CONNECT_S)
    except (OSError, ValueError, TypeError) as error:
        why = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise ClusterError(f"the scheduler at {address} does not answer: {why}") from error
    with client:
        yield client


def on_workers(
    client: Client, jobs: Sequence[Job], progress: Callable[[float], None]
) -> Iterator[Outcome]:
    """Yield the outcomes as they come, in no order; each job's exactly once.

    Raise :class:`ClusterError` where the scheduler goes away.

    No more jobs are handed over than keep the workers busy, so that a hundred
    thousand sessions are no load for the scheduler nor for this process.
    """
    left = iter(jobs)
    doing: dict[str, Job] = {}

    def hand_over(count: int) -> list[Future]:
        futures = []
        for job in islice(left, count):
            future = client.submit(measure_again, job, pure=False)
            doing[future.key] = job
            futures.append(future)
        return futures

    threads = sum(client.nthreads().values()) or 1
    waiting = as_completed(hand_over(AHEAD * threads), raise_errors=False)
    suspects: list[Job] = []
    done = 0
    for future in waiting:
        job = doing.pop(future.key)
        waiting.update(hand_over(1))
        outcome = _outcome(future, job)
        if outcome is None:
            suspects.append(job)
            continue
        done += 1
        progress(done / len(jobs))
        yield outcome
        future.release()
    # A death is laid to all jobs that the worker had; alone, only the guilty one kills it again.
    for job in suspects:
        outcome = _outcome(client.submit(measure_again, job, pure=False), job)
        done += 1
        progress(done / len(jobs))
        yield outcome or Outcome(job.folder, trouble=_KILLS)


def _outcome(future: Future, job: Job) -> Outcome | None:
    """Wait for an outcome; None where its workers died. Raise :class:`ClusterError`."""
    try:
        outcome: Outcome = future.result()
        return outcome
    except KilledWorker:
        return None
    except CancelledError:
        raise ClusterError("the connection to the cluster's scheduler was lost") from None
    except Exception as error:
        return Outcome(job.folder, trouble=defect(error))
