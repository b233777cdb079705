"""Everything that a report tells of one session, read and measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from analysis.baseline import WATCHED, Baseline, Comparison, Standing, baseline, overall, stand
from analysis.running import is_void
from analysis.sessions.join import Joined, Target, join
from analysis.sessions.join_file import JoinTable
from analysis.sessions.measured import Measured, measure
from analysis.sessions.series import (
    NOTHING_JOINED,
    Joins,
    Quantity,
    by_pitcher,
    quantity,
    value_in,
)
from analysis.sessions.stored import StoredSession, read_session
from stream.outputs import PitchRecord, Traces

#: What a report shows of the curves, seconds from foot contact, with a margin for the ends.
CURVES_S = (-1.3, 0.6)


@dataclass(frozen=True)
class Part:
    """One session. ``traces`` and ``at_ns`` (foot contact, host clock) are by pitch number.

    ``standings`` compare each pitch with all the pitcher's pitches of the
    session; ``differing`` are pitches that the recordings now give otherwise.
    """

    label: str
    session: StoredSession
    measured: Measured
    traces: Mapping[int, Traces]
    at_ns: Mapping[int, int]
    standings: Mapping[int, tuple[Comparison, ...]]
    differing: tuple[int, ...]
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
        return (*map(quantity, WATCHED), *joined)

    def standing(self, number: int) -> Standing:
        """Return how a pitch as a whole stands to the pitcher's others."""
        return overall(self.standings[number])


def gather(
    folders: Sequence[Path],
    result: str | None = None,
    table: JoinTable | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Part]:
    """Read and measure sessions, first thrown first; raise SessionError, FileError, OSError."""
    sessions = [read_session(folder, result) for folder in folders]
    made = []
    for index, session in enumerate(sessions):

        def tell(share: float, index: int = index) -> None:
            if progress is not None:
                progress((index + share) / len(sessions))

        made.append((session, _measured(session, tell)))
    made.sort(key=lambda one: (_began(*one), one[0].about.id))
    parts = []
    for number, (session, measured) in enumerate(made, start=1):
        name = f"Session {number}" if len(made) > 1 else "Session"
        label = f"{name}, {_began(session, measured):%Y-%m-%d %H:%M} UTC"
        parts.append(_part(label, session, measured, table))
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
        standings=_standings(session.pitches),
        differing=tuple(r.number for r, p in both if p.record != r),
        joined=None if table is None else join(table, targets),
    )


def _began(session: StoredSession, measured: Measured) -> datetime:
    """Return when the first pitch was thrown: a session made by a replay is younger than it."""
    if measured.pitches:
        return datetime.fromtimestamp(measured.pitches[0].at_ns / 1e9, UTC)
    try:
        return datetime.fromisoformat(session.about.created).astimezone(UTC)
    except ValueError:
        return datetime.fromtimestamp(0, UTC)


def _standings(records: Sequence[PitchRecord]) -> dict[int, tuple[Comparison, ...]]:
    bases: dict[tuple[str, str], Baseline | None] = {}
    for code, own in by_pitcher(records).items():
        for key in WATCHED:
            what = quantity(key)
            bases[code, key] = baseline(key, (value_in(r, what) for r in own if not is_void(r)))
    return {
        r.number: tuple(
            stand(key, value_in(r, quantity(key)), bases[r.pitcher, key]) for key in WATCHED
        )
        for r in records
    }
