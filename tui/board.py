"""What the screens show now: pulled from the link by one timer, never pushed into a widget."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from msgspec.structs import replace

from analysis.running import NotCountedRow, PitchRow, Row, in_order, pitch_rows
from stream.monitor.view import Link, PitchView
from stream.snapshot import DeckState, FeedState, Level, PlatformLoad, Sentence, Snapshot
from stream.sources.source import CONNECTION

#: So long the demo's device may take to begin.
BEGINS_WITHIN_S = 8
_BEGINS = "Waiting for the device to begin."
#: Key of the sentence that says that the monitor is gone.
GONE = "monitor gone"


@dataclass(frozen=True, slots=True)
class Pulled:
    """What a pull brought: another snapshot, another session (a pitch new or changed)."""

    snapshot: bool
    session: bool


class FeedHistory:
    """The feed's rate, latency and losses, one value a second for two minutes; NaN: not known."""

    SECONDS = 120

    def __init__(self) -> None:
        self.rate_hz, self.latency_ms, self.lost = (
            deque([math.nan] * self.SECONDS, self.SECONDS) for _ in range(3)
        )
        self._lost_before = 0
        #: How many seconds were remembered.
        self.seconds = 0

    def remember(self, snapshot: Snapshot | None) -> None:
        """Take the values of this second."""
        if snapshot is None:
            return
        self.seconds += 1
        feed = snapshot.feed
        self.rate_hz.append(math.nan if feed.rate_hz is None else feed.rate_hz)
        self.latency_ms.append(math.nan if feed.latency_ms is None else feed.latency_ms)
        lost = feed.lost_frames - self._lost_before
        self.lost.append(float(lost) if lost > 0 else math.nan)
        self._lost_before = feed.lost_frames

    def skip(self, seconds: int) -> None:
        """Let seconds pass of which nothing is known."""
        for values in (self.rate_hz, self.latency_ms, self.lost):
            values.extend([math.nan] * min(seconds, self.SECONDS))


class Board:
    """The last pull, the session's rows, and which pitch is looked at (None: the newest)."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self.snapshot: Snapshot | None = None
        self.sentences: list[Sentence] = []
        self.lost_say = ""
        self.pitches: list[PitchRow] = []
        self.rows: list[Row] = []
        self.chosen: int | None = None
        self.history = FeedHistory()
        self._taken: tuple[Snapshot | None, bool] = (None, False)
        self._views: dict[int, PitchView] = {}
        self._not_counted = 0

    def pull(self) -> Pulled:
        """Take what the link knows now. A new pitch is looked at, whichever was before."""
        link = self.link
        before, taken = self.snapshot, (link.latest, link.lost)
        if taken[0] is not self._taken[0] or taken[1] != self._taken[1]:
            self.snapshot = _of_now(*taken)
        self._taken = taken
        self.lost_say = link.lost_say if link.lost else ""
        # What a monitor that is gone said last may be true no more.
        gone = [Sentence(Level.ALARM, GONE, self.lost_say)]
        self.sentences = gone if self.lost_say else link.sentences
        views, others = link.pitches, link.not_counted
        changed = len(others) != self._not_counted or len(views) != len(self._views)
        changed = changed or any(self._views.get(v.record.number) is not v for v in views)
        if changed:
            newest = self.pitches[-1].record.number if self.pitches else None
            self._views = {v.record.number: v for v in views}
            self._not_counted = len(others)
            self.pitches = pitch_rows([v.record for v in views], self.pitches)
            self.rows = in_order(self.pitches, others)
            if self.pitches and self.pitches[-1].record.number != newest:
                self.chosen = None
        return Pulled(self.snapshot is not before, changed)

    def wait_calmly(self) -> None:
        """Say that the device is still to begin, where it is known that it takes a moment."""
        if self.history.seconds >= BEGINS_WITHIN_S or self.snapshot is None:
            return
        if self.snapshot.feed.state is FeedState.WAITING:
            others = [s for s in self.sentences if s.key != CONNECTION]
            self.sentences = [*others, Sentence(Level.INFO, CONNECTION, _BEGINS)]

    @property
    def shown(self) -> PitchRow | None:
        """The pitch that is looked at."""
        if self.chosen is None:
            return self.pitches[-1] if self.pitches else None
        return next((p for p in self.pitches if p.record.number == self.chosen), None)

    @property
    def shown_view(self) -> PitchView | None:
        """The same with its curves."""
        row = self.shown
        return None if row is None else self._views.get(row.record.number)

    @property
    def newest(self) -> Row | None:
        """What happened last on the mound: a pitch, or a movement that was not counted."""
        return self.rows[-1] if self.rows else None

    @property
    def not_counted_since(self) -> NotCountedRow | None:
        """The movement that was not counted after the newest pitch, when that one is looked at."""
        newest = self.newest
        return newest if isinstance(newest, NotCountedRow) and self.chosen is None else None

    def choose(self, number: int | None) -> bool:
        """Look at pitch ``number``, or follow the newest; tell whether that changed anything."""
        if number is not None and self.pitches and self.pitches[-1].record.number == number:
            number = None
        changed = number != self.chosen
        self.chosen = number
        return changed


def _of_now(snapshot: Snapshot | None, lost: bool) -> Snapshot | None:
    """Return a picture without the loads of before, where nothing comes from the deck any more."""
    if snapshot is None or not (lost or snapshot.feed.state is FeedState.STALLED):
        return snapshot
    unknown = [
        PlatformLoad(p.name, math.nan, math.nan, math.nan, None, None) for p in snapshot.platforms
    ]
    blank = [math.nan] * len(snapshot.strip.drive)
    return replace(
        snapshot,
        deck=DeckState.UNKNOWN,
        platforms=unknown,
        strip=replace(snapshot.strip, drive=blank, lead=blank),
        feed=replace(snapshot.feed, state=FeedState.STALLED, rate_hz=None, latency_ms=None),
    )
