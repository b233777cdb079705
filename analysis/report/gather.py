"""Everything that a report tells of one session, read and measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.baseline import WATCHED, Comparison, Standing, overall
from analysis.running import pitch_rows
from analysis.sessions.clock import host_times
from analysis.sessions.join import Joined, Target, join
from analysis.sessions.join_file import JoinTable
from analysis.sessions.measured import Measured, measure
from analysis.sessions.order import in_time_order
from analysis.sessions.series import (
    NOTHING_JOINED,
    Joins,
    Quantity,
    by_pitcher,
    quantity,
    told_of,
)
from analysis.sessions.stored import StoredSession, read_session
from stream.outputs import PitchRecord, Traces

#: What a report shows of the curves, seconds from foot contact, with a margin for the ends.
CURVES_S = (-1.3, 0.6)


@dataclass(frozen=True)
class Part:
    """One session. ``traces`` and ``at_ns`` (foot contact, host clock) are by pitch number.

    ``standings`` compare each pitch with the pitcher's pitches before it, as
    the screens do; ``differing`` are pitches that the recordings now give
    otherwise. ``uncounted_ns`` are the host times of the movements that were
    not counted, in their order.
    """

    label: str
    session: StoredSession
    measured: Measured
    traces: Mapping[int, Traces]
    at_ns: Mapping[int, int]
    standings: Mapping[int, tuple[Comparison, ...]]
    differing: tuple[int, ...]
    uncounted_ns: tuple[int | None, ...] = ()
    joined: Joined | None = None

    @property
    def pitches(self) -> tuple[PitchRecord, ...]:
        """All pitches, voided ones too."""
        return self.session.pitches

    @property
    def own(self) -> dict[str, list[PitchRecord]]:
        """Each pitcher's pitches."""
        return by_pitcher(self.session.pitches)

    @property
    def joins(self) -> Joins:
        """What a joined file gives, by pitch number."""
        return NOTHING_JOINED if self.joined is None else self.joined.values

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """What the report tells of: the watched metrics, then the joined file's columns."""
        joined = () if self.joined is None else self.joined.quantities
        return (*map(self.quantity, WATCHED), *joined)

    def quantity(self, key: str) -> Quantity:
        """Return a watched quantity as it is in this session: estimated or not."""
        return told_of(quantity(key), self.pitches)

    def standing(self, number: int) -> Standing:
        """Return how a pitch as a whole stands to the pitcher's earlier ones."""
        return overall(self.standings[number])


def gather(
    folders: Sequence[Path],
    result: str | None = None,
    table: JoinTable | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Part]:
    """Read and measure sessions, first thrown first; raise SessionError, FileError, OSError."""
    sessions = in_time_order(read_session(folder, result) for folder in folders)
    parts = []
    for index, session in enumerate(sessions):

        def tell(share: float, index: int = index) -> None:
            if progress is not None:
                progress((index + share) / len(sessions))

        name = f"Session {index + 1}, {session.name}" if len(sessions) > 1 else "Session"
        label = f"{name}, {session.began:%Y-%m-%d %H:%M} UTC"
        parts.append(_part(label, session, _measured(session, tell), table))
    return parts


def _measured(session: StoredSession, tell: Callable[[float], None]) -> Measured:
    if session.result is None:
        return measure(session, window_s=CURVES_S, progress=tell)
    return measure(
        session,
        settings=session.settings,
        layout=session.layout,
        window_s=CURVES_S,
        progress=tell,
    )


def _part(label: str, session: StoredSession, measured: Measured, table: JoinTable | None) -> Part:
    again = {p.record.number: p for p in measured.pitches}
    both = [(r, again[r.number]) for r in session.pitches if r.number in again]
    at_ns = {r.number: p.at_ns for r, p in both}
    targets = [Target(r.number, r.pitcher, at_ns.get(r.number)) for r in session.pitches]
    return Part(
        label=label,
        session=session,
        measured=measured,
        traces={r.number: p.traces for r, p in both if p.record == r},
        at_ns=at_ns,
        standings={row.record.number: row.comparisons for row in pitch_rows(session.pitches)},
        differing=tuple(r.number for r, p in both if p.record != r),
        uncounted_ns=_uncounted_ns(session),
        joined=None if table is None else join(table, targets),
    )


def _uncounted_ns(session: StoredSession) -> tuple[int | None, ...]:
    moments = [(m.stream, m.frame) for m in session.not_counted]
    return host_times(session.recordings, session.about.source, moments)
