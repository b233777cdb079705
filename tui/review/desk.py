"""What the review looks at: the sessions, and in each what was chosen. No drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from analysis.baseline import SPEED
from analysis.curves import Component
from analysis.review.selection import Order, Selection, selected
from analysis.running import PitchRow, Row, in_order, pitch_rows
from analysis.sessions.stored import StoredSession
from stream.metrics import METRICS
from stream.outputs import PitchRecord, Traces

#: Columns of the table until others are chosen.
FIRST_COLUMNS: tuple[str, ...] = (
    "drive_peak_bw",
    "landing_peak_bw",
    SPEED,
    "landing_braking_bw",
    "drive_forward_bw",
    "stride_m",
    "drive_time_s",
    "landing_time_to_peak_s",
    "forward_speed_mps",
    "landing_to_drive_ratio",
)
#: All that a column can show, in the order of the registry.
COLUMNS: tuple[str, ...] = (SPEED, *(m.key for m in METRICS))
#: Other pitches that can be laid over one plot and still be told apart.
MOST_MARKED = 5
#: Times closer than this are one moment, s.
SAME_MOMENT_S = 1e-6


class Span(StrEnum):
    """Which stretch of time the curves show."""

    DELIVERY = "delivery"
    LANDING = "landing"
    WHOLE = "whole"


@dataclass
class Sitting:
    """One session as it is looked at.

    ``share`` is how far its recordings have been measured again, None before
    and after; ``trouble`` says why there are no curves.
    """

    session: StoredSession
    rows: list[Row] = field(default_factory=list)
    pitches: list[PitchRow] = field(default_factory=list)
    traces: Mapping[int, Traces] = field(default_factory=dict)
    sentences: tuple[str, ...] = ()
    share: float | None = None
    measured: bool = False
    trouble: str = ""
    chosen: int | None = None
    marked: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.take(self.session)

    @property
    def name(self) -> str:
        """The folder's name, which tells one session from another."""
        return self.session.name

    @property
    def day(self) -> str:
        """When the session began, date and time (UTC)."""
        return f"{self.session.began:%Y-%m-%d %H:%M}"

    def take(self, session: StoredSession) -> None:
        """Look at the session as it was read now."""
        self.session = session
        self.pitches = pitch_rows(session.pitches)
        self.rows = in_order(self.pitches, session.not_counted)
        numbers = [p.record.number for p in self.pitches]
        self.marked = [n for n in self.marked if n in numbers]
        if self.chosen not in numbers:
            self.chosen = numbers[0] if numbers else None

    def take_curves(self, traces: Mapping[int, Traces], sentences: Sequence[str]) -> None:
        """Take curves by pitch number, and what the recordings say of themselves."""
        self.traces, self.sentences = traces, tuple(sentences)
        self.measured, self.share = True, None

    def take_trouble(self, why: str) -> None:
        """There are no curves, because of ``why``."""
        self.trouble, self.share = why, None

    def row(self, number: int | None) -> PitchRow | None:
        """Return a pitch by its number."""
        return next((p for p in self.pitches if p.record.number == number), None)

    def mates(self, record: PitchRecord) -> list[PitchRecord]:
        """Return the same pitcher's pitches of this session that are not void."""
        return [p.record for p in self.pitches if p.record.pitcher == record.pitcher and not p.void]


class Desk:
    """Several sessions, one of them before us, and how it is shown."""

    def __init__(self, sessions: Sequence[StoredSession]) -> None:
        self.sittings = [Sitting(s) for s in sessions]
        self.at = 0
        self.selection = Selection()
        self.order = Order()
        self.columns: tuple[str, ...] = FIRST_COLUMNS
        self.component: Component | None = None
        self.newtons = False
        self.band = True
        self.span = Span.DELIVERY
        self.moment_s = 0.0
        self.metric = METRICS[0].key
        #: How far a report or an export is written, 0 to 1; None where none is.
        self.writing: float | None = None

    @property
    def now(self) -> Sitting:
        """The session before us."""
        return self.sittings[self.at]

    @property
    def shown(self) -> PitchRow | None:
        """The pitch that is looked at."""
        return self.now.row(self.now.chosen)

    @property
    def shown_traces(self) -> Traces | None:
        """Its curves, once they are measured."""
        return None if self.now.chosen is None else self.now.traces.get(self.now.chosen)

    @property
    def rows(self) -> list[Row]:
        """The rows of the table, selected and in order."""
        return selected(self.now.rows, self.selection, self.order)

    @property
    def pitchers(self) -> list[str]:
        """Everybody who threw in the session, in the order of the first pitch."""
        return list(dict.fromkeys(p.record.pitcher for p in self.now.pitches))

    def choose(self, number: int) -> None:
        """Look at a pitch."""
        self.now.chosen = number

    def step(self, by: int) -> None:
        """Look at an earlier or later row of the table."""
        numbers = [r.record.number for r in self.rows if isinstance(r, PitchRow)]
        if numbers:
            at = numbers.index(self.now.chosen) + by if self.now.chosen in numbers else 0
            self.now.chosen = numbers[max(0, min(at, len(numbers) - 1))]

    def mark(self, number: int) -> bool:
        """Lay a pitch over the curves, or take it off; False where there are too many."""
        marked = self.now.marked
        if number in marked:
            marked.remove(number)
        elif len(marked) >= MOST_MARKED:
            return False
        else:
            marked.append(number)
        return True

    def keep_in_sight(self) -> None:
        """After another selection: look at a pitch that is in it, if there is one."""
        numbers = [r.record.number for r in self.rows if isinstance(r, PitchRow)]
        if numbers and self.now.chosen not in numbers:
            self.now.chosen = numbers[0]

    def move(self, by_s: float) -> None:
        """Move the time cursor; it stays within the pitch's curves."""
        traces = self.shown_traces
        if traces is not None:
            low, high = float(traces.time_s[0]), float(traces.time_s[-1])
            self.moment_s = min(max(self.moment_s + by_s, low), high)

    def to_event(self, by: int) -> None:
        """Move the time cursor to the pitch's next event (``by`` 1), or the one before (-1)."""
        row = self.shown
        if row is None:
            return
        times = sorted(t for t in row.record.events_s.values() if t is not None)
        ahead = [t for t in times if (t - self.moment_s) * by > SAME_MOMENT_S]
        if ahead:
            self.moment_s = min(ahead) if by > 0 else max(ahead)
