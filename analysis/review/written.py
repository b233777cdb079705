"""Reports and exports of stored sessions, as the commands ``report`` and ``export`` write them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from pathlib import Path

from analysis.drafts import OutputError, drafted_file, drafted_folder, refuse_taken
from analysis.exports.c3d_session import write_session
from analysis.exports.errors import ExportError
from analysis.exports.sync import by_host
from analysis.exports.tables import (
    dictionary_path,
    session_columns,
    write_csv,
    write_dictionary,
    write_parquet,
)
from analysis.report.gather import gather
from analysis.report.report import html
from analysis.sessions.stored import StoredSession

Progress = Callable[[float], None]


class Kind(StrEnum):
    """What can be written."""

    REPORT = "report"
    CSV = "csv"
    PARQUET = "parquet"
    C3D = "c3d"


class NotWritten(ValueError):  # noqa: N818 - it is an answer, said to whoever asked
    """Nothing was written; the text says why."""


def write(kind: Kind, sessions: Sequence[StoredSession], out: Path, progress: Progress) -> str:
    """Write ``sessions`` (a report takes several, an export the first) to ``out``, which is new.

    Returns what was written, in words. Raise :class:`NotWritten`,
    SessionError, FileError, OSError. ``progress`` is told the share done; what
    it raises ends the writing and leaves nothing behind.
    """
    try:
        if kind is Kind.REPORT:
            return _report(sessions, out, progress)
        if not sessions[0].pitches:
            raise NotWritten("the session holds no pitch")
        if kind is Kind.C3D:
            return _c3d(sessions[0], out, progress)
        return _table(kind, sessions[0], out)
    except (ExportError, OutputError) as error:
        raise NotWritten(str(error)) from None


def _report(sessions: Sequence[StoredSession], out: Path, progress: Progress) -> str:
    parts = gather([s.folder for s in sessions], sessions[0].result, None, progress)
    with drafted_file(out) as draft:
        draft.write_text(html(parts), encoding="utf-8")
    pitches = sum(len(part.pitches) for part in parts)
    return f"report of {pitches} pitches"


def _table(kind: Kind, session: StoredSession, out: Path) -> str:
    columns = session_columns(session)
    beside = dictionary_path(out)
    refuse_taken(beside)
    with drafted_file(out) as table, drafted_file(beside) as dictionary:
        (write_csv if kind is Kind.CSV else write_parquet)(table, columns, session.pitches)
        write_dictionary(dictionary, columns)
    return f"{len(session.pitches)} pitches; every column is explained in {beside.name}"


def _c3d(session: StoredSession, out: Path, progress: Progress) -> str:
    name = session.folder.resolve().name
    with drafted_folder(out) as draft:
        summary = write_session(draft, session, name, None, by_host(session.recordings), progress)
    return " ".join([f"{len(summary.written)} files, {summary.rates()}.", *summary.sentences])
