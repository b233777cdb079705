"""The running session: what happened on the mound, in order, each pitch with its comparison."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from analysis.baseline import Comparison, Standing, compare_pitch, overall
from stream.book import VOID
from stream.outputs import NotCountedRecord, PitchRecord


@dataclass(frozen=True, slots=True)
class PitchRow:
    """One counted pitch and how it stands to the same pitcher's pitches before it."""

    record: PitchRecord
    comparisons: tuple[Comparison, ...]
    standing: Standing

    @property
    def void(self) -> bool:
        """Whether the operator left this pitch out."""
        return is_void(self.record)

    def comparison(self, key: str) -> Comparison | None:
        """Return the comparison of one watched metric."""
        return next((c for c in self.comparisons if c.key == key), None)


@dataclass(frozen=True, slots=True)
class NotCountedRow:
    """A delivery-like movement that was not counted."""

    record: NotCountedRecord


Row = PitchRow | NotCountedRow


def is_void(record: PitchRecord) -> bool:
    """Tell whether the operator left this pitch out of tables and statistics."""
    return VOID in record.flags


def pitch_rows(records: Sequence[PitchRecord], known: Sequence[PitchRow] = ()) -> list[PitchRow]:
    """Compare each pitch with the same pitcher's pitches before it, voided ones left out.

    ``known`` are the rows of an earlier call; as far as its records are the
    same objects, its rows are taken as they are (a row depends on nothing
    that comes after it).
    """
    same = 0
    for row, record in zip(known, records, strict=False):
        if row.record is not record:
            break
        same += 1
    rows = list(known[:same])
    for index in range(same, len(records)):
        record = records[index]
        earlier = [r for r in records[:index] if r.pitcher == record.pitcher and not is_void(r)]
        comparisons = compare_pitch(record, earlier)
        rows.append(PitchRow(record, comparisons, overall(comparisons)))
    return rows


def in_order(pitches: Iterable[PitchRow], not_counted: Iterable[NotCountedRecord]) -> list[Row]:
    """Return pitches and movements not counted in the order in which they happened.

    Pitches come by number; each movement not counted, as it was told, is put
    between the pitches of its run of the device by its frame. Those of a run
    without a pitch come last.
    """
    pitches = list(pitches)
    others = list(not_counted)
    contacts = [(p.record.stream, p.record.foot_contact_frame) for p in pitches]
    runs: dict[tuple[str, int], list[tuple[float, int]]] = {}
    for index, (run, frame) in enumerate(_runs(contacts)):
        runs.setdefault(run, []).append((frame, index))
    before: list[list[Row]] = [[] for _ in range(len(pitches) + 1)]
    told = _runs((o.stream, o.frame) for o in others)
    for record, (run, frame) in zip(others, told, strict=True):
        own = runs.get(run, [(0.0, len(pitches) - 1)])
        after = bisect_left(own, (frame, 0))
        at = own[after][1] if after < len(own) else own[-1][1] + 1
        before[at].append(NotCountedRow(record))
    rows: list[Row] = []
    for index, row in enumerate(pitches):
        rows += [*before[index], row]
    return rows + before[-1]


def _runs(places: Iterable[tuple[str, float | None]]) -> Iterator[tuple[tuple[str, int], float]]:
    """Yield the run of the device and the frame for each (stream, frame) of what came in order.

    A device that restarts without a new stream value begins again at an early
    frame: frames that go back are its next run. An unknown frame is the last.
    """
    newest: dict[str, tuple[int, float]] = {}
    for stream, known in places:
        number, last = newest.get(stream, (0, 0.0))
        frame = last if known is None else known
        newest[stream] = (number + (frame < last), frame)
        yield (stream, newest[stream][0]), frame
