"""Jobs one after the other in this process: nothing but the standard library."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from analysis.recompute.job import Job, Outcome, measure_again


def one_by_one(jobs: Sequence[Job], progress: Callable[[float], None]) -> Iterator[Outcome]:
    """Yield each job's outcome; ``progress`` is told the share of all that is done, 0 to 1."""
    for number, job in enumerate(jobs):

        def tell(share: float, number: int = number) -> None:
            progress((number + share) / len(jobs))

        yield measure_again(job, tell)
