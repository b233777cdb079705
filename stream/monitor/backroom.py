"""A thread that writes to what may be slow or stuck, so that the feed never waits for it."""

from __future__ import annotations

import asyncio
import contextlib
import queue
import threading
import time
from collections.abc import Callable

Job = Callable[[], object]

#: Jobs that may wait; more are dropped and counted.
WAITING = 10_000
_LOOK_S = 0.5
_STUCK_S = 2.0
_FAREWELL_S = 5.0


class Backroom:
    """Does jobs in order, in a thread of its own.

    ``tend`` is called between jobs twice a second and returns what is wrong,
    or None; ``close`` is called at the end and returns whether all is written.
    Both run in the thread. A job that raises ends :meth:`watch` with its error.
    To be made where an event loop runs.
    """

    def __init__(
        self,
        name: str,
        tend: Callable[[], str | None] = lambda: None,
        close: Callable[[], bool] = lambda: True,
        waiting: int = WAITING,
    ) -> None:
        self.name = name
        self.dropped = 0
        self._tend = tend
        self._close = close
        self._jobs: queue.Queue[Job | None] = queue.Queue(waiting)
        self._trouble: str | None = None
        self._busy_since: float | None = None
        self._complete = False
        self._failure: Exception | None = None
        self._loop = asyncio.get_running_loop()
        self._ended = asyncio.Event()
        # A daemon, because a thread that hangs in a write cannot be ended in any other way.
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def put(self, job: Job) -> None:
        """Have ``job`` done; it is dropped and counted if too many wait."""
        try:
            self._jobs.put_nowait(job)
        except queue.Full:
            self.dropped += 1

    @property
    def trouble(self) -> str | None:
        """What is wrong at the moment, or None."""
        busy = self._busy_since
        if busy is not None and time.monotonic() - busy > _STUCK_S:
            return (
                f"{self.name} takes nothing any more ({self._jobs.qsize()} things wait). "
                "Measuring and recording go on; look at the program or disk at its other end."
            )
        return self._trouble

    async def watch(self) -> None:
        """Wait until a job fails and raise its error; for a task of the service."""
        await self._ended.wait()
        if self._failure is not None:
            raise self._failure

    async def finish(self) -> bool:
        """Do what waits, for a few seconds at most; return whether everything is written."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_FAREWELL_S):
                while not self._ended.is_set():
                    try:
                        self._jobs.put_nowait(None)
                        break
                    except queue.Full:
                        await asyncio.sleep(0.01)
                await self._ended.wait()
        return self._complete and not self.dropped

    def _run(self) -> None:
        try:
            while True:
                try:
                    job = self._jobs.get(timeout=_LOOK_S)
                except queue.Empty:
                    self._trouble = self._tend()
                    continue
                if job is None:
                    break
                self._busy_since = time.monotonic()
                job()
                self._busy_since = None
            self._busy_since = time.monotonic()
            self._complete = self._close()
        except Exception as error:  # told by watch(): nobody awaits a thread
            self._failure = error
        finally:
            self._busy_since = None
            with contextlib.suppress(RuntimeError):  # the loop is gone: nobody waits any more
                self._loop.call_soon_threadsafe(self._ended.set)
