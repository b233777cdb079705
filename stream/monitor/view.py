"""What a screen knows of a running monitor, whichever way it came.

:class:`Link` is what screens poll on their own timer. :class:`LocalLink` is
fed in the same process (a replay on screen, a test);
:class:`stream.monitor.viewer.ViewerLink` follows a monitor in another one.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from stream.actions import Action
from stream.outputs import (
    NotCounted,
    NotCountedRecord,
    Output,
    Pitch,
    PitchChanged,
    PitchClosed,
    PitchRecord,
    Traces,
)
from stream.snapshot import Sentence, Snapshot

#: Traces are large (50 kB): the latest pitches keep theirs, older ones their record only.
KEPT_TRACES = 50
KEPT_PITCHES = 600
KEPT_NOT_COUNTED = 500


@dataclass(frozen=True, eq=False)
class PitchView:
    """A pitch as a screen shows it; ``traces`` is None for one too long ago."""

    record: PitchRecord
    traces: Traces | None


@dataclass
class MoundView:
    """What is known of one mound."""

    latest: Snapshot | None = None
    seen_s: float | None = None
    pitches: dict[int, PitchView] = field(default_factory=dict)
    not_counted: list[NotCountedRecord] = field(default_factory=list)

    def show(self, snapshot: Snapshot, now_s: float) -> None:
        """Take the newest picture."""
        self.latest, self.seen_s = snapshot, now_s

    def put_pitch(self, record: PitchRecord, traces: Traces | None) -> None:
        """Take a new pitch, or a change of one already known (``traces`` None keeps its own)."""
        known = self.pitches.get(record.number)
        if traces is None and known is not None:
            traces = known.traces
        self.pitches[record.number] = PitchView(record, traces)
        if known is None:
            self._forget()

    def put_not_counted(self, record: NotCountedRecord) -> None:
        """Take a movement that was not counted."""
        if record not in self.not_counted:
            self.not_counted.append(record)
            del self.not_counted[:-KEPT_NOT_COUNTED]

    def _forget(self) -> None:
        numbers = sorted(self.pitches)
        for number in numbers[:-KEPT_PITCHES]:
            del self.pitches[number]
        for number in numbers[-KEPT_PITCHES:-KEPT_TRACES]:
            if self.pitches[number].traces is not None:
                self.pitches[number] = PitchView(self.pitches[number].record, None)


class Link:
    """The interface for screens. ``source`` is the mound to follow; None: the first one seen."""

    def __init__(
        self, source: str | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.source = source
        self._clock = clock
        self._mounds: dict[str, MoundView] = {}
        self._monitor_sentences: list[Sentence] = []

    @property
    def sources(self) -> list[str]:
        """Every mound that the monitor hears, in alphabetical order."""
        return sorted(self._mounds)

    def follow(self, source: str) -> None:
        """Look at another mound from now on."""
        self.source = source

    @property
    def latest(self) -> Snapshot | None:
        """The newest picture of the mound; None before the first."""
        return self._mound.latest

    @property
    def age_s(self) -> float | None:
        """How old the newest picture is, s; None before the first."""
        seen = self._mound.seen_s
        return None if seen is None else self._clock() - seen

    @property
    def pitches(self) -> list[PitchView]:
        """The mound's pitches in order of number, each as it stands now."""
        pitches = self._mound.pitches
        return [pitches[number] for number in sorted(pitches)]

    @property
    def not_counted(self) -> list[NotCountedRecord]:
        """The movements that were not counted, oldest first."""
        return list(self._mound.not_counted)

    @property
    def sentences(self) -> list[Sentence]:
        """What the operator should read: of the monitor first, then of the mound."""
        latest = self._mound.latest
        return [*self._monitor_sentences, *(latest.sentences if latest else ())]

    @property
    def may_act(self) -> bool:
        """Whether this viewer may choose pitchers, void, note, take the zero."""
        return False

    @property
    def lost(self) -> bool:
        """Whether the monitor is gone."""
        return False

    @property
    def lost_say(self) -> str:
        """What happened and what to do, when :attr:`lost`; else empty."""
        return ""

    @property
    def missed(self) -> int:
        """Messages that did not reach this viewer at first and had to be fetched again."""
        return 0

    async def act(self, action: Action) -> str | None:
        """Do what the operator asks; return a sentence if it was refused, else None."""
        raise NotImplementedError

    @property
    def _mound(self) -> MoundView:
        if self.source is None and self._mounds:
            self.source = min(self._mounds)
        return self._mound_of(self.source) if self.source is not None else MoundView()

    def _mound_of(self, source: str) -> MoundView:
        return self._mounds.setdefault(source, MoundView())


class LocalLink(Link):
    """A link within one process. ``on_act`` takes an action and returns a sentence or None."""

    def __init__(
        self,
        source: str | None = None,
        on_act: Callable[[Action], str | None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(source, clock)
        self._on_act = on_act

    @property
    def may_act(self) -> bool:
        """Whether somebody takes the actions."""
        return self._on_act is not None

    def feed(self, outputs: Iterable[Output]) -> None:
        """Take what came out of the core."""
        for output in outputs:
            match output:
                case Pitch(record=record, traces=traces):
                    self._mound_of(record.source).put_pitch(record, traces)
                case PitchChanged(record=record) | PitchClosed(record=record):
                    self._mound_of(record.source).put_pitch(record, None)
                case NotCounted(record=movement):
                    self._mound_of(movement.source).put_not_counted(movement)
                case _:
                    pass

    def show(self, snapshot: Snapshot) -> None:
        """Take the newest picture."""
        self._mound_of(snapshot.source).show(snapshot, self._clock())

    def forget(self) -> None:
        """Forget every mound: what is fed next begins anew."""
        self._mounds.clear()

    def say(self, sentences: Iterable[Sentence]) -> None:
        """Take what the operator should read beside the pictures."""
        self._monitor_sentences = list(sentences)

    async def act(self, action: Action) -> str | None:
        """Hand the action to whoever takes it."""
        if self._on_act is None:
            return "This screen only looks on; it cannot change anything."
        return self._on_act(action)
