"""One long piece of work in a thread: told how far it is, stopped at will, taken up by a timer."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread

#: Told the share done, 0 to 1; raises where the work is no longer wanted.
Progress = Callable[[float], None]
#: Done in the screen's own thread when the work is over.
Settle = Callable[[], None]


class Stopped(Exception):  # noqa: N818 - no error
    """Somebody wants no more of it."""


class Job:
    """Does one thing at a time; whoever draws calls :meth:`poll` from a timer."""

    def __init__(self) -> None:
        self._stop = Event()
        self._thread: Thread | None = None
        self._settle: Settle | None = None
        self._told = 0.0
        #: How far the work is, 0 to 1; None where there is none.
        self.share: float | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being done."""
        return self._thread is not None

    def start(self, work: Callable[[Progress], Settle], failed: Callable[[str], None]) -> None:
        """Begin ``work``; whatever else was being done is stopped.

        Work returns what is to be done with its result; an error of it is
        said by ``failed``. Both are called by :meth:`poll`.
        """
        self.stop()
        self._stop, self._settle, self._told, self.share = Event(), None, 0.0, 0.0
        self._thread = Thread(target=self._run, args=(work, failed, self._stop), daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop; nothing is settled."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        self._thread, self._settle, self.share = None, None, None

    def poll(self) -> bool:
        """Take what the thread has told; return whether there is something to draw."""
        if self._thread is None:
            return False
        if self._settle is not None:
            settle = self._settle
            self._thread, self._settle, self.share = None, None, None
            settle()
            return True
        before, self.share = self.share, self._told
        return before != self.share

    def _run(
        self, work: Callable[[Progress], Settle], failed: Callable[[str], None], stop: Event
    ) -> None:
        def progress(share: float) -> None:
            if stop.is_set():
                raise Stopped
            # Whole per cents are enough for anybody who waits.
            self._told = int(100.0 * share) / 100.0

        try:
            self._settle = work(progress)
        except Stopped:
            return
        except (ValueError, OSError) as error:
            self._settle = _saying(failed, str(error))
        except Exception as error:
            # Whatever ends a thread must reach the screen.
            text = f"an error in the program itself ({type(error).__name__}: {error})"
            self._settle = _saying(failed, text)


def _saying(failed: Callable[[str], None], text: str) -> Settle:
    return lambda: failed(text)
