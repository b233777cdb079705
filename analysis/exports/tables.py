"""The table of pitches, one row a pitch, as CSV or Parquet, with its data dictionary."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from analysis.exports.cells import cell
from analysis.exports.columns import Column, Kind, pitch_columns, time_columns
from analysis.exports.errors import ExportError
from analysis.invented import SENTENCE
from analysis.sessions.clock import host_times
from analysis.sessions.stored import StoredSession
from stream.outputs import PitchRecord

_DICTIONARY_HEAD = ("column", "unit", "kind", "label", "definition", "source")


def session_columns(session: StoredSession) -> tuple[Column, ...]:
    """Return the columns of a session's table; its recordings are read for the times."""
    moments = {
        r.number: (r.stream, r.foot_contact_frame)
        for r in session.pitches
        if r.foot_contact_frame is not None
    }
    found = host_times(session.recordings, session.about.source, tuple(moments.values()))
    at_ns = {n: at for n, at in zip(moments, found, strict=True) if at is not None}
    who, *rest = pitch_columns(session.folder.resolve().name)
    if session.invented:
        who = replace(who, definition=f"{who.definition} {SENTENCE}")
    return (who, *rest, *time_columns(session.began, at_ns))


def write_csv(path: Path, columns: Sequence[Column], records: Iterable[PitchRecord]) -> None:
    """Write the table to ``path``: UTF-8, commas, an empty cell for what was not measured."""
    _write_rows(
        path,
        [c.name for c in columns],
        ([cell(c.value(record)) for c in columns] for record in records),
    )


def write_parquet(path: Path, columns: Sequence[Column], records: Sequence[PitchRecord]) -> None:
    """Write the table to ``path``; each column carries its unit and definition as metadata.

    Texts stand as they are: a Parquet file says that they are texts.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415 - an optional extra
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError as error:
        raise ExportError(
            f"Parquet needs '{error.name}'; install it with: pip install '.[tables]'"
        ) from None
    types = {
        Kind.TEXT: pa.string(),
        Kind.WHOLE: pa.int64(),
        Kind.NUMBER: pa.float64(),
        Kind.YES_NO: pa.bool_(),
        Kind.TIME: pa.timestamp("us", tz="UTC"),
    }
    fields = [
        pa.field(
            c.name,
            types[c.kind],
            metadata={"unit": c.unit, "label": c.label, "definition": c.definition},
        )
        for c in columns
    ]
    arrays = [
        pa.array([c.value(r) for r in records], type=field.type)
        for c, field in zip(columns, fields, strict=True)
    ]
    pq.write_table(pa.Table.from_arrays(arrays, schema=pa.schema(fields)), path)


def dictionary_path(table: Path) -> Path:
    """Return where the dictionary of ``table`` stands: beside it."""
    return table.with_name(f"{table.name}.dictionary.csv")


def write_dictionary(path: Path, columns: Sequence[Column]) -> None:
    """Write what each column is, as CSV."""
    rows = ((c.name, c.unit, c.kind.value, c.label, c.definition, c.source) for c in columns)
    _write_rows(path, _DICTIONARY_HEAD, ([cell(text) for text in row] for row in rows))


def _write_rows(path: Path, head: Sequence[str], rows: Iterator[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(head)
        writer.writerows(rows)
