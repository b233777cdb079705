"""The recordings of a session through the core, in a thread that can be stopped."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread

from analysis.sessions.measured import measure
from stream.files import FileError
from tui.review.desk import Sitting


class _Stopped(Exception):  # noqa: N818 - no error
    """Somebody wants no more of it."""


class Reader:
    """Reads one sitting's recordings at a time; :meth:`poll` from the screen's timer."""

    def __init__(self) -> None:
        self._stop = Event()
        self._thread: Thread | None = None
        self._settle: Callable[[], None] | None = None
        self._share = 0.0
        self.sitting: Sitting | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being read."""
        return self.sitting is not None

    def start(self, sitting: Sitting) -> None:
        """Begin to read ``sitting``'s recordings; whatever else was being read is stopped."""
        self.stop()
        self._stop, self._settle, self._share = Event(), None, 0.0
        self.sitting, sitting.share, sitting.trouble = sitting, 0.0, ""
        self._thread = Thread(target=self._read, args=(sitting, self._stop), daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop reading; the sitting stays as it was before."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        if self.sitting is not None:
            self.sitting.share = None
        self.sitting, self._thread, self._settle = None, None, None

    def poll(self) -> bool:
        """Take what the thread has told; return whether the sitting changed."""
        sitting = self.sitting
        if sitting is None:
            return False
        if self._settle is not None:
            self._settle()
            self.sitting, self._thread, self._settle = None, None, None
            return True
        before, sitting.share = sitting.share, self._share
        return before != self._share

    def _read(self, sitting: Sitting, stop: Event) -> None:
        def progress(share: float) -> None:
            if stop.is_set():
                raise _Stopped
            # Whole per cents are enough for anybody who waits.
            self._share = int(100.0 * share) / 100.0

        own = sitting.session.result is not None
        try:
            measured = measure(
                sitting.session,
                settings=sitting.session.settings if own else None,
                layout=sitting.session.layout if own else None,
                progress=progress,
            )
        except _Stopped:
            return
        except (FileError, OSError) as error:
            self._settle = lambda why=str(error): _failed(sitting, why)
        except Exception as error:
            # Whatever ends a thread must reach the screen.
            why = f"an error in the program itself ({type(error).__name__}: {error})"
            self._settle = lambda: _failed(sitting, why)
        else:
            self._settle = lambda: sitting.take_measured(measured)


def _failed(sitting: Sitting, why: str) -> None:
    sitting.share, sitting.trouble = None, why
