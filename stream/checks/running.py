"""The set-up check as every core has it: one that runs, and the last one made.

The operator's messages start and guide it (:mod:`stream.actions`), force
messages feed it, and screens see it in the snapshot. All of it rests on what
is recorded, so a replay makes the same check at the same place.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from stream.actions import CheckMove, GuideCheck, StartCheck
from stream.checks.verdict import Report, Result, verdict_line
from stream.layout import Array, Layout
from stream.settings import Settings
from stream.snapshot import CheckFound, CheckMade, CheckNow
from stream.wire import ForceMessage

if TYPE_CHECKING:
    from stream.checks.guided import GuidedCheck

_NONE_RUNS = "No set-up check is running; start one first."


class Checking:
    """The set-up checks of one mound. ``last`` is the report of the last one made."""

    def __init__(
        self, source: str, layout: Layout, settings: Settings, last: Report | None = None
    ) -> None:
        self.last = last
        self._source = source
        self._layout = layout
        self._settings = settings
        self._guided: GuidedCheck | None = None

    @property
    def running(self) -> bool:
        """Whether a check wants the feed."""
        return self._guided is not None and not self._guided.done

    @property
    def empty_reading(self) -> Array | None:
        """The zero that the check which runs has seen, (channels,) raw units; None before it."""
        return None if self._guided is None or self._guided.done else self._guided.empty_reading

    def start(self, asked: StartCheck) -> str | None:
        """Begin a check; return a sentence if that is refused."""
        # Every check there is; a replay without a set-up check need not wait for them.
        from stream.checks.guided import begin  # noqa: PLC0415

        begun = begin(asked, self._source, self._layout, self._settings)
        if isinstance(begun, str):
            return begun
        self._guided = begun
        return None

    def guide(self, asked: GuideCheck) -> Report | str | None:
        """Do what the operator wants; return the report if that ended the check, or a refusal."""
        if self._guided is None:
            return _NONE_RUNS
        if asked.move is CheckMove.STOP:
            self._guided = None
            return None
        answer = self._guided.guide(asked.move)
        if isinstance(answer, Report):
            self.last = answer
        return answer

    def refuse(self) -> None:
        """Count a message that could not be read."""
        if self._guided is not None and self.running:
            self._guided.refuse()

    def take(self, message: ForceMessage, received_ns: int) -> Report | None:
        """Take the next force message; return the report if the check is done with it."""
        if self._guided is None or self._guided.done:
            return None
        report = self._guided.take(message, received_ns)
        if self._guided.given_up:
            self._guided = None
        if report is not None:
            self.last = report
        return report

    def now(self) -> CheckNow | None:
        """Return the check that runs as a screen shows it, None where there is none."""
        return None if self._guided is None else self._guided.now(self.last)

    def made(self, now_ns: int) -> CheckMade | None:
        """Return the last check made as a screen shows it."""
        last = self.last
        if last is None:
            return None
        age_s = None if last.taken_ns is None else (now_ns - last.taken_ns) / 1e9
        say, found = verdict_line(last), as_found(last.checks)
        return CheckMade(last.ok, last.by, age_s, say, found, last.outcome)


def as_found(results: Iterable[Result]) -> list[CheckFound]:
    """Return results as a screen shows them."""
    return [CheckFound(r.check, r.status.value, r.value, r.unit, r.say) for r in results]
