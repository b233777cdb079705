"""Session tables as Parquet files in folders that say what they hold (hive partitioning).

``OUT/result=.../mound=.../date=.../<session>.parquet``: one row a pitch, the
same columns and types in every file, whatever a session measured. Programs
that read such folders (DuckDB, Polars, Spark, Arrow) see ``result``,
``mound`` and ``date`` as columns and open only the files that a question
needs. ``date`` is the day on which the session began, in UTC: that of its first
recording, not of its folder.
"""

from __future__ import annotations

import io
import re
from datetime import datetime
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from analysis.exports.columns import Column, Kind, pitch_columns, time_columns
from analysis.recompute.job import Pitches
from stream.recording.durable import OWNER_ONLY_FOLDER, write_whole
from stream.recording.session import About, SessionError

#: The partition of what the monitor measured, before any named result.
FIRST = "first"

_ID = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")
_TYPES = {
    Kind.TEXT: pa.string(),
    Kind.WHOLE: pa.int64(),
    Kind.NUMBER: pa.float64(),
    Kind.YES_NO: pa.bool_(),
    Kind.TIME: pa.timestamp("us", tz="UTC"),
}


def write_table(
    out: Path, about: About, began: datetime, pitches: Pitches, result: str | None
) -> Path:
    """Write the table of a session that ``began`` (UTC); raise SessionError, OSError.

    A table that is there is replaced. The file's name is the session's id:
    the name of the session's folder, which may say who threw, stays behind.
    """
    if not _ID.match(about.id):
        raise SessionError("its session.json has an id that is no session's")
    partitions = (f"result={result or FIRST}", f"mound={about.source}", f"date={began.date()}")
    folder = out.joinpath(*partitions)
    folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    path = folder / f"{about.id}.parquet"
    buffer = io.BytesIO()
    pq.write_table(_table(about.id, began, pitches), buffer, compression="zstd")
    write_whole(path, buffer.getvalue())
    return path


def _table(session: str, began: datetime, pitches: Pitches) -> pa.Table:
    numbered = zip(pitches.records, pitches.at_ns, strict=True)
    at_ns = {record.number: ns for record, ns in numbered if ns is not None}
    columns = (*pitch_columns(session), *time_columns(began, at_ns))
    cells = {c.name: [c.value(record) for record in pitches.records] for c in columns}
    return pa.table(cells, schema=pa.schema(map(_field, columns)))


def _field(column: Column) -> pa.Field:
    said = {"unit": column.unit, "label": column.label, "definition": column.definition}
    return pa.field(column.name, _TYPES[column.kind], metadata=said)
