"""How far a long job has come, on a terminal only."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self, TextIO


class Progress:
    """One line that is rewritten when its percentage changes, and wiped at the end."""

    def __init__(self, what: str, total: int, out: TextIO = sys.stderr) -> None:
        self._what = what
        self._total = max(total, 1)
        self._out = out
        self._shown = -1
        self._on = out.isatty()

    def at(self, done: int) -> None:
        """Tell how much of the total is done."""
        percent = min(100 * done // self._total, 100)
        if self._on and percent != self._shown:
            self._shown = percent
            self._out.write(f"\r{self._what}: {percent} %")
            self._out.flush()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._shown >= 0:
            self._out.write("\r" + " " * (len(self._what) + 8) + "\r")
            self._out.flush()
