"""The table of pitches: what a spreadsheet, pandas and the study bench make of it."""

from __future__ import annotations

import csv
import json
import stat
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from analysis.exports.cells import cell, safe_text
from analysis.sessions.stored import read_session
from stream.events import EVENTS
from stream.metrics import METRICS
from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.exports.sessions import act
from tui.commands.main import main


def export(session: Path, kind: str, *options: str) -> Path:
    out = session.parent / f"pitches.{kind}"
    assert main(["export", str(session), "--to", kind, "-o", str(out), *options]) == 0
    return out


def frame_of(path: Path) -> pd.DataFrame:
    return pd.read_csv(path) if path.suffix == ".csv" else pd.read_parquet(path)


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_one_row_a_pitch_and_every_number_to_the_last_bit(session: Path, kind: str) -> None:
    frame = frame_of(export(session, kind))
    records = read_session(session).pitches
    assert len(frame) == len(records) == 6
    assert frame["session"].unique().tolist() == ["tuesday"]
    for row, record in zip(frame.to_dict("records"), records, strict=True):
        assert row["number"] == record.number
        assert row["pitcher"] == record.pitcher
        assert row["throws"] == record.throws
        expected = {m.key: record.metrics[m.key] for m in METRICS}
        expected |= {f"{e.key}_s": record.events_s[e.key] for e in EVENTS}
        expected |= {"speed_mps": record.speed_mps, "body_weight_n": record.body_weight_n}
        for name, value in expected.items():
            if value is None:
                assert pd.isna(row[name]), name
            else:
                assert row[name] == value, name


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_the_dictionary_explains_every_column(session: Path, kind: str) -> None:
    out = export(session, kind)
    with (out.parent / f"{out.name}.dictionary.csv").open(encoding="utf-8") as file:
        rows = {row["column"]: row for row in csv.DictReader(file)}
    assert list(rows) == list(frame_of(out).columns)
    assert all(row["definition"] for row in rows.values())
    for metric in METRICS:
        assert rows[metric.key]["definition"] == metric.definition
        assert rows[metric.key]["unit"] == (metric.unit or "(ratio)")
        assert rows[metric.key]["source"] == metric.source


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_an_invented_session_says_so_in_its_dictionary(
    session: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = export(session, kind)
    assert "Invented data: the recording says" in capsys.readouterr().out
    with (out.parent / f"{out.name}.dictionary.csv").open(encoding="utf-8") as file:
        rows = {row["column"]: row for row in csv.DictReader(file)}
    assert "Invented data: the recording says" in rows["session"]["definition"]


def test_parquet_carries_units_and_types(session: Path) -> None:
    schema = pq.read_schema(export(session, "parquet"))
    field = schema.field("drive_peak_bw")
    assert field.metadata[b"unit"] == b"% BW"
    assert str(field.type) == "double"
    assert str(schema.field("number").type) == "int64"
    assert str(schema.field("void").type) == "bool"


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_each_pitch_has_its_date_and_time(session: Path, recording: Path, kind: str) -> None:
    times = [p.received_ns for p in read_recording(recording).packets()]
    begin, end = (datetime.fromtimestamp(ns / 1e9, UTC) for ns in (times[0], times[-1]))
    frame = frame_of(export(session, kind))
    contacts = pd.to_datetime(frame["contact_at"])
    assert contacts.is_monotonic_increasing
    assert contacts.between(begin, end).all()
    # The device's frames are 5 ms (200 Hz) and its clock 20 ppm fast (simulated).
    frames = frame["foot_contact_frame"].diff().dropna() / 200.0
    apart = contacts.diff().dropna().dt.total_seconds()
    assert (apart - frames).abs().max() < 0.03
    assert (pd.to_datetime(frame["began"]) - begin).abs().max() < pd.Timedelta(milliseconds=1)


def test_times_are_iso_8601_in_utc(session: Path) -> None:
    with export(session, "csv").open(encoding="utf-8", newline="") as file:
        at = next(csv.DictReader(file))["contact_at"]
    assert at.endswith("Z")
    assert datetime.fromisoformat(at).utcoffset() == datetime.now(UTC).utcoffset()
    field = pq.read_schema(export(session, "parquet")).field("contact_at")
    assert str(field.type) == "timestamp[us, tz=UTC]"


def test_without_the_recording_the_time_stays_empty(session: Path) -> None:
    for path in read_session(session).recordings:
        path.unlink()
    frame = pd.read_csv(export(session, "csv"))
    assert frame["contact_at"].isna().all()
    created = datetime.fromisoformat(Session.open(session).about.created)
    assert (pd.to_datetime(frame["began"]) == created).all()


def test_void_pitches_are_marked_and_missing_stays_empty(session: Path) -> None:
    act(session, "void", 2, reason="slipped")
    act(session, "speed", 3, speed_mps=None)
    frame = pd.read_csv(export(session, "csv"))
    assert frame["void"].tolist() == [False, True, False, False, False, False]
    assert frame.loc[1, "note"] == "slipped"
    assert frame["speed_mps"].isna()[2]
    text = (session.parent / "pitches.csv").read_text()
    assert "nan" not in text
    assert "None" not in text


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_the_study_bench_takes_it_as_it_is(session: Path, kind: str) -> None:
    for number in range(1, 7):
        act(session, "speed", number, speed_mps=36.0 + 0.3 * number)
    out = export(session, kind)
    answer = session.parent / "effect.json"
    words = ["study", "effect", str(out), "--outcome", "speed_mps", "--predictor", "drive_peak_bw"]
    assert main([*words, "--pitcher", "pitcher", "--json", str(answer)]) == 0
    assert json.loads(answer.read_text())["n_pitches"] == 6
    words = ["study", "reliability", str(out), "--measure", "landing_peak_bw"]
    assert main([*words, "--pitcher", "pitcher", "--json", str(answer)]) == 0


#: Strings that spreadsheets execute (OWASP, "CSV Injection"): invented arguments.
FORMULAS = [
    "=1+2",
    "+1",
    "-1+cmd|'/C calc'!A0",
    "@SUM(A1)",
    '=HYPERLINK("http://192.0.2.1","x")',
    "\t=1+2",
    "\r=1+2",
    " =1+2",
    "\uff1d1+2",
    "\x00=1+2",
    "\u200b=1+2",
    "\ufeff@SUM(A1)",
    "\u00a0+1",
]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_becomes_a_formula(text: str) -> None:
    safe = safe_text(text)
    assert safe[0] == "'"
    assert "\t" not in safe
    assert "\r" not in safe


def test_plain_cells_stay_as_they_are() -> None:
    assert safe_text("P03") == "P03"
    assert safe_text("") == ""
    assert safe_text("a=b") == "a=b"
    assert safe_text("slipped, mound wet") == "slipped, mound wet"
    assert cell(-1.5) == "-1.5"
    assert cell(None) == ""
    assert cell(True) == "true"


def test_formulas_in_notes_and_codes_of_a_session(session: Path) -> None:
    act(session, "note", 1, text="=1+2")
    act(session, "note", 2, text="two\nlines, and a comma")
    act(session, "reassign", 3, pitcher="@P9")
    with export(session, "csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["note"] == "'=1+2"
    assert rows[1]["note"] == "two lines, and a comma"
    assert rows[2]["pitcher"] == "'@P9"
    for row in rows:
        for value in row.values():
            first = value[:1]
            assert first not in "=+@" or first == ""
            if first == "-":
                float(value)
    # A Parquet file says that its texts are texts.
    assert pd.read_parquet(export(session, "parquet")).loc[0, "note"] == "=1+2"


def test_names_only_when_asked_and_for_the_owner_alone(session: Path) -> None:
    roster = session.parent / "roster.csv"
    codes = sorted({r.pitcher for r in read_session(session).pitches})
    rows = [f"{code},R,=Anna {k}" for k, code in enumerate(codes)]
    roster.write_text("pitcher,throws,name\n" + "\n".join(rows) + "\n")
    out = export(session, "csv")
    assert "Anna" not in out.read_text()
    out = export(session, "csv", "--overwrite", "--names", str(roster))
    frame = pd.read_csv(out)
    assert frame["name"].tolist() == [f"'=Anna {codes.index(c)}" for c in frame["pitcher"]]
    for path in (out, out.parent / "pitches.csv.dictionary.csv"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_named_result(session: Path) -> None:
    folder = Session.open(session).new_result("other")
    lines = (session / "pitches.jsonl").read_text().splitlines(keepends=True)
    (folder / "pitches.jsonl").write_text("".join(lines[:-1]))
    wanted = len(read_session(session, "other").pitches)
    assert len(pd.read_csv(export(session, "csv", "--result", "other"))) == wanted


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (["--result", "none"], "no result 'none'"),
        (["--names", "nowhere.csv"], "nowhere.csv"),
        (["--point-rate", "250"], "--point-rate is for --to c3d, not for csv"),
        (["--sync-file", "lab.csv"], "--sync-file is for --to c3d"),
        (["--tare"], "--tare is for --to traces"),
    ],
)
def test_wrong_use(
    session: Path, capsys: pytest.CaptureFixture[str], change: list[str], sentence: str
) -> None:
    out = session.parent / "o.csv"
    assert main(["export", str(session), "--to", "csv", "-o", str(out), *change]) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert not out.exists()


def test_what_is_no_session(
    recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for what in (recording, tmp_path, tmp_path / "nowhere"):
        assert main(["export", str(what), "--to", "csv", "-o", str(tmp_path / "o.csv")]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    words = ["export", str(tmp_path), "--to", "traces", "-o", str(tmp_path / "o.csv")]
    assert main(words) == 2


def test_a_folder_that_is_not_there(session: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = session.parent / "nowhere" / "o.csv"
    assert main(["export", str(session), "--to", "csv", "-o", str(out)]) == 2
    assert "no folder" in capsys.readouterr().err
