"""The Parquet tables of `moundfeed recompute --tables`, read by three other programs' readers.

Outside: Apache Arrow's dataset reader, DuckDB and Polars, each asked for hive partitions; the
numbers they give are compared with the sessions' own JSON Lines. Invented data.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import polars
import pyarrow.dataset as ds
import pytest

from analysis.sessions.stored import read_session
from analysis.study.results import StudyError
from analysis.study.table import load
from stream.metrics import METRICS
from tui.commands.main import main


@pytest.fixture
def tables(sessions: list[Path], low: Path, tmp_path: Path) -> Path:
    """The first measurement and a named result of three sessions; one pitch is void."""
    act = {"v": 1, "t_ns": 1, "what": "action", "source": "mound-a", "number": 1}
    with (sessions[0] / "log.jsonl").open("a") as log:
        log.write(json.dumps(act | {"action": "void", "reason": "slipped"}) + "\n")
    out = tmp_path / "tables"
    words = ["recompute", *map(str, sessions), "--workers", "0", "--tables", str(out)]
    assert main(words) == 0
    assert main([*words, "--settings", str(low)]) == 0
    return out


Row = tuple[str, int, float | None]


def stored(sessions: list[Path], result: str | None, key: str) -> list[Row]:
    """(session, number, value) of each pitch, from the session folders themselves."""
    return sorted(
        (session.about.id, pitch.number, pitch.metrics[key])
        for session in (read_session(folder, result) for folder in sessions)
        for pitch in session.pitches
    )


def test_arrow_reads_the_partitions(tables: Path, sessions: list[Path]) -> None:
    data = ds.dataset(tables, partitioning="hive")
    assert {"result", "mound", "date"} <= set(data.schema.names)
    for result, name in ((None, "first"), ("low", "low")):
        for metric in METRICS:
            found = data.to_table(
                columns=["session", "number", metric.key], filter=ds.field("result") == name
            )
            rows = [tuple(row.values()) for row in found.to_pylist()]
            assert sorted(rows) == stored(sessions, result, metric.key), metric.key
    assert data.schema.field("drive_peak_n").metadata[b"unit"] == b"N"


def test_duckdb_reads_the_partitions(tables: Path, sessions: list[Path]) -> None:
    files = f"read_parquet('{tables}/**/*.parquet', hive_partitioning = true)"
    rows = duckdb.execute(
        f"select session, number, landing_peak_bw from {files} where result = 'low'"
    ).fetchall()
    assert sorted(rows) == stored(sessions, "low", "landing_peak_bw")
    counts = duckdb.execute(
        f"select result, mound, count(*), sum(void::int) from {files} group by all order by all"
    ).fetchall()
    assert counts == [("first", "mound-a", 6, 1), ("low", "mound-a", 6, 1)]


def test_polars_reads_the_partitions(tables: Path, sessions: list[Path]) -> None:
    lazy = polars.scan_parquet(f"{tables}/**/*.parquet", hive_partitioning=True)
    rows = (
        lazy.filter(polars.col("result") == "first", polars.col("mound") == "mound-a")
        .select("session", "number", "drive_peak_bw")
        .collect()
        .rows()
    )
    assert sorted(rows) == stored(sessions, None, "drive_peak_bw")


def test_the_study_bench_reads_one_result(tables: Path, sessions: list[Path]) -> None:
    frame = load([tables / "result=first"])
    key = "landing_peak_bw"
    rows = zip(frame["session"], frame["number"], frame[key], strict=True)
    assert sorted(rows) == stored(sessions, None, key)
    assert set(frame["mound"]) == {"mound-a"}
    with pytest.raises(StudyError, match=r"several results \(first, low\); give one"):
        load([tables])


def test_times_and_days(tables: Path, sessions: list[Path]) -> None:
    """Foot contacts lie within the recording; the day is its own, not the folder's."""
    from stream.recording.reader import read_recording

    table = ds.dataset(tables / "result=first", partitioning="hive").to_table().to_pylist()
    for folder in sessions:
        session = read_session(folder)
        times = [p.received_ns for p in read_recording(session.recordings[0]).packets()]
        begin, end = (datetime.fromtimestamp(ns / 1e9, UTC) for ns in (times[0], times[-1]))
        own = [row for row in table if row["session"] == session.about.id]
        assert len(own) == 2
        assert all(begin < row["contact_at"] < end for row in own)
        assert {str(row["date"]) for row in own} == {str(begin.date())}
        assert {row["began"] for row in own} == {
            begin.replace(microsecond=times[0] // 1000 % 10**6)
        }
        assert str(begin.date()) != session.about.created[:10]


def test_files_are_their_owners_and_name_nobody(tables: Path) -> None:
    found = list(tables.rglob("*.parquet"))
    assert len(found) == 6
    for path in found:
        assert path.stat().st_mode & 0o777 == 0o600
        assert "session-" not in path.name, "the folder's name stays behind"


def test_a_session_that_claims_a_path_for_its_id_is_refused(
    sessions: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = sessions[0] / "session.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | {"id": "../../x"}))
    out = tmp_path / "out"
    assert main(["recompute", *map(str, sessions), "--workers", "0", "--tables", str(out)]) == 1
    assert "an id that is no session's" in capsys.readouterr().err
    assert len(list(tmp_path.rglob("*.parquet"))) == 2


def test_writing_again_replaces(tables: Path, sessions: list[Path]) -> None:
    before = sorted(tables.rglob("*"))
    words = ["recompute", *map(str, sessions), "--workers", "0", "--tables", str(tables)]
    assert main(words) == 0
    assert sorted(tables.rglob("*")) == before
