"""Reading tables and session folders, and refusing what cannot be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pandas as pd
import pytest

from analysis.study.plausible import expected
from analysis.study.results import StudyError
from analysis.study.table import load, missing_sentence, prepare
from stream.actions import Void
from stream.files import load_layout, settings_text
from stream.outputs import PitchRecord
from stream.recording.content import SCENARIO
from stream.recording.plain import PlainWriter
from stream.recording.session import Session
from stream.roster import Roster
from stream.settings import Settings


def test_missing_values_are_counted_and_listed(tmp_path: Path) -> None:
    file = tmp_path / "t.csv"
    file.write_text("pitcher,peak_bw,speed_mps\nA,150,36\nA,,36.2\n,151,\nB,NaN,35\nB,149,35.5\n")
    data = prepare(load([file]), ["peak_bw", "speed_mps"], ["pitcher"])
    assert data.missing.rows_read == 5
    assert data.missing.rows_used == 2
    assert data.missing.by_column == {"peak_bw": 2, "speed_mps": 1, "pitcher": 1}
    assert [(row.row, row.columns) for row in data.missing.rows] == [
        (2, ["peak_bw"]),
        (3, ["speed_mps", "pitcher"]),
        (4, ["peak_bw"]),
    ]
    sentence = missing_sentence(data.missing)
    assert "3 of 5 rows left out" in sentence
    assert "rows 2, 3, 4" in sentence
    assert list(data.numbers["peak_bw"]) == [150, 149]


def test_csv_and_parquet_are_the_same(tmp_path: Path) -> None:
    frame = pd.DataFrame({"pitcher": ["A", "B"], "x": [1.5, 2.5]})
    frame.to_csv(tmp_path / "t.csv", index=False)
    frame.to_parquet(tmp_path / "t.parquet")
    assert load([tmp_path / "t.csv"]).equals(load([tmp_path / "t.parquet"]))
    assert len(load([tmp_path / "t.csv", tmp_path / "t.parquet"])) == 4


def kept_session(folder: Path, *pitches: PitchRecord) -> Session:
    session = Session.create(
        folder,
        source="mound-a",
        layout_text=load_layout("two-plates").origin_text,
        settings_text=settings_text(Settings()),
        roster=Roster(),
    )
    for pitch in pitches:
        session.add_record(pitch)
    return session


def invented(number: int, push: float, **more: Any) -> PitchRecord:
    return PitchRecord(
        source="mound-a",
        stream="s",
        number=number,
        pitcher="P1",
        throws="R",
        foot_contact_frame=900.0 * number,
        events_s={"foot_contact": 0.0},
        body_weight_n=800.0,
        metrics={"drive_peak_bw": push},
        **more,
    )


def test_a_session_folder_is_a_table_without_its_void_pitches(tmp_path: Path) -> None:
    pitches = [invented(n, 150.0 + n, estimated=("drive_peak_bw",) * (n == 2)) for n in (1, 2, 3)]
    session = kept_session(tmp_path / "monday", *pitches)
    void = Void(source="mound-a", t_ns=5, number=3, reason="wrong pitcher")
    session.add_log("action", msgspec.to_builtins(void))
    session.close()
    frame = load([tmp_path / "monday"])
    assert list(frame["session"]) == ["monday"] * 3
    assert frame["speed_mps"].isna().all()
    data = prepare(frame, ["drive_peak_bw"], ["pitcher"])
    assert list(data.numbers["drive_peak_bw"]) == [151.0, 152.0]
    assert missing_sentence(data.missing) == "1 void pitch left out. No values missing in 2 rows."
    measured = prepare(load([tmp_path / "monday"], estimates=False), ["drive_peak_bw"])
    assert list(measured.numbers["drive_peak_bw"]) == [151.0]
    assert [row.row for row in measured.missing.rows] == [2]


@pytest.mark.parametrize("scenario", [None, "two invented pitchers"])
def test_an_answer_from_simulated_sessions_says_that_they_are_invented(
    tmp_path: Path, scenario: str | None
) -> None:
    kept_session(tmp_path / "monday", invented(1, 151.0)).close()
    tuesday = kept_session(tmp_path / "tuesday", invented(1, 152.0), invented(2, 153.0))
    _, recording = tuesday.next_recording()
    metadata = {} if scenario is None else {SCENARIO: {"text": scenario}}
    PlainWriter(recording, extra_metadata=metadata).close()
    tuesday.close()
    data = prepare(load([tmp_path / "monday", tmp_path / "tuesday"]), ["drive_peak_bw"])
    assert missing_sentence(data.missing).startswith("Invented data") == (scenario is not None)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("pitcher,speed_mps\nA,36\nB,900\n", "'speed_mps' cannot be in m/s: row 2 says 900"),
        ("pitcher,speed_mps\nA,36\nB,0\n", "row 2 says 0"),
        ("pitcher,speed_mps\nA,36\nB,fast\n", "row 2 says 'fast'"),
        ("pitcher,speed_mps\nA,36\nB,inf\n", "infinite value in row 2"),
        ("pitcher,speed\nA,36\n", "no column 'speed_mps'"),
        ("pitcher,speed_mps\n", "no rows"),
        ("pitcher,speed_mps\nA,\n", "no row has all"),
        ("", "could not be read"),
    ],
)
def test_bad_tables_get_one_sentence(tmp_path: Path, text: str, sentence: str) -> None:
    file = tmp_path / "t.csv"
    file.write_text(text)
    with pytest.raises(StudyError, match=sentence.replace("(", r"\(")) as caught:
        prepare(load([file]), ["speed_mps"], ["pitcher"])
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("t.parquet", "not parquet", "could not be read"),
        ("t.xlsx", "x", "neither"),
        ("none.csv", None, "not found"),
    ],
)
def test_bad_files_get_one_sentence(
    tmp_path: Path, name: str, text: str | None, sentence: str
) -> None:
    if text is not None:
        (tmp_path / name).write_text(text)
    with pytest.raises(StudyError, match=sentence):
        load([tmp_path / name])


def test_bad_session_folders_get_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="is not a session"):
        load([tmp_path])
    kept_session(tmp_path / "new").close()
    with pytest.raises(StudyError, match="holds no pitches yet"):
        load([tmp_path / "new"])


def test_a_table_that_marks_no_estimates_cannot_leave_them_out(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("pitcher,x\nA,1\n")
    with pytest.raises(StudyError, match="no column 'estimated'"):
        load([tmp_path / "t.csv"], estimates=False)


@pytest.mark.parametrize(
    ("column", "fair", "wrong"),
    [
        ("ball_speed_mph", 88.0, 900.0),
        ("speed", 140.0, 900.0),
        ("forward_speed_mps", 2.7, 270.0),
        ("drive_peak_bw", 170.0, 1700.0),
        ("landing_peak_n", 2100.0, 2.1e6),
        ("body_mass_kg", 90.0, 900.0),
        ("overlap_s", -0.05, 50000.0),
    ],
)
def test_units_by_name(column: str, fair: float, wrong: float) -> None:
    limits = expected(column)
    assert limits is not None
    assert limits.low <= fair <= limits.high
    assert not limits.low <= wrong <= limits.high


def test_a_name_that_says_nothing_is_not_judged() -> None:
    assert expected("elbow_torque") is None
