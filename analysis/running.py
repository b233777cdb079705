"""The running session: what happened on the mound, in order, each pitch with its comparison."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

    Frames order what one run of the device saw; its runs follow one another
    in the order in which their first pitch came.
    """
    pitches = list(pitches)
    others = list(not_counted)
    runs: dict[str, int] = {}
    for stream in (*(p.record.stream for p in pitches), *(n.stream for n in others)):
        runs.setdefault(stream, len(runs))
    placed: list[tuple[int, float, int, Row]] = []
    frame = 0.0
    for index, row in enumerate(pitches):
        contact = row.record.foot_contact_frame
        frame = frame if contact is None else contact
        placed.append((runs[row.record.stream], frame, index, row))
    for index, record in enumerate(others):
        placed.append((runs[record.stream], record.frame, index, NotCountedRow(record)))
    return [row for *_, row in sorted(placed, key=lambda p: p[:3])]
