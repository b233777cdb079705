"""What is written beside the recording: JSON Lines, the session's folder, lines on a terminal."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Protocol

import msgspec

from stream.actions import Action
from stream.monitor.backroom import Backroom, Job
from stream.outputs import CheckDone, NotCounted, Output, PitchClosed, ZeroLearnt, ZeroSet
from stream.recording.session import LOG, RECORDS, Session
from stream.sinks.jsonl import JsonLinesSink, LineFile, say_waiting
from stream.snapshot import Sentence


class Keeper(Protocol):
    """Takes what happens; never waits. ``room`` does the writing."""

    room: Backroom

    def take(self, outputs: Sequence[Output]) -> None:
        """Take what came out of the core."""

    def acted(self, action: Action) -> None:
        """Take what the operator did."""

    def said(self, sentence: Sentence) -> None:
        """Take what the monitor says."""


class JsonLines:
    """A JSON Lines file, or a pipe."""

    def __init__(self, lines: LineFile) -> None:
        self._sink = JsonLinesSink(lines)

        def tend() -> str | None:
            lines.retry()
            return lines.trouble

        self.room = Backroom(f"The file {lines.path.name}", tend, lines.close)

    def take(self, outputs: Sequence[Output]) -> None:
        """Have a line written for each pitch that closed and each movement not counted."""
        if any(isinstance(output, PitchClosed | NotCounted) for output in outputs):
            self.room.put(lambda: self._sink.take(outputs))

    def acted(self, action: Action) -> None:
        """The records carry what the operator did."""

    def said(self, sentence: Sentence) -> None:
        """Sentences are not for this file."""


class SessionKeeper:
    """The session's pitches and its log.

    A file that cannot be opened (its folder is gone, the disk is full) ends
    nothing: its lines wait, it is said, and it is tried again.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._unkept: dict[str, object] | None = None
        self._waiting: dict[str, deque[Job]] = {RECORDS: deque(), LOG: deque()}
        self.room = Backroom(f"The session folder {session.folder.name}", self._tend, self._close)

    def take(self, outputs: Sequence[Output]) -> None:
        """Have pitches, zeros and set-up checks written."""
        for output in outputs:
            match output:
                case PitchClosed() | NotCounted():
                    self._write(RECORDS, partial(self._session.add_record, output.record))
                case ZeroLearnt():
                    self._log("zero", msgspec.to_builtins(output))
                case ZeroSet(tare=tare):
                    self._log("zero", {"tare": msgspec.to_builtins(tare)})
                case CheckDone(report=report):
                    self._keep(msgspec.to_builtins(report))
                case _:
                    pass

    def acted(self, action: Action) -> None:
        """Have the operator's action logged."""
        self._log("action", msgspec.to_builtins(action))

    def said(self, sentence: Sentence) -> None:
        """Have the sentence logged."""
        self._log("said", msgspec.to_builtins(sentence))

    def _log(self, what: str, detail: dict[str, object]) -> None:
        self._write(LOG, partial(self._session.add_log, what, detail, time.time_ns()))

    def _write(self, file: str, job: Job) -> None:
        def write() -> None:
            self._waiting[file].append(job)
            self._open_and_write(file)

        self.room.put(write)

    def _open_and_write(self, file: str) -> str | None:
        """Do what waits for ``file``, in order; return what is wrong, in words."""
        waiting = self._waiting[file]
        while waiting:
            try:
                waiting[0]()
            except OSError as error:
                return say_waiting(error, len(waiting), file)
            waiting.popleft()
        return None

    def _keep(self, check: dict[str, object]) -> None:
        def keep() -> None:
            self._unkept = check
            self._tend()

        self.room.put(keep)

    def _keep_check(self) -> str | None:
        if self._unkept is not None:
            try:
                self._session.keep_check(self._unkept)
            except OSError as error:
                return f"The set-up check is not written yet: {error.strerror}. It is tried again."
            self._unkept = None
        return None

    def _tend(self) -> str | None:
        """Write what waits, a full disk or not; return what is wrong, in words."""
        troubles = [self._open_and_write(file) for file in self._waiting]
        troubles += [self._keep_check(), self._session.trouble()]
        return next(filter(None, troubles), None)

    def _close(self) -> bool:
        self._tend()
        complete = self._session.close()
        return complete and self._unkept is None and not any(self._waiting.values())


class Teller:
    """Says what happens to somebody who reads: ``lines`` turns outputs into text."""

    def __init__(
        self,
        lines: Callable[[Output], Iterable[str]],
        write: Callable[[str], None],
        warn: Callable[[str], None],
    ) -> None:
        self._lines = lines
        self._write = write
        self._warn = warn
        self.room = Backroom("The terminal", waiting=1000)

    def take(self, outputs: Sequence[Output]) -> None:
        """Write a line for each pitch."""
        for output in outputs:
            for line in self._lines(output):
                self.room.put(lambda line=line: self._write(line))  # type: ignore[misc]

    def acted(self, action: Action) -> None:
        """What changed is told by the outputs."""

    def said(self, sentence: Sentence) -> None:
        """Write the sentence beside the results."""
        self.room.put(lambda: self._warn(sentence.text))
