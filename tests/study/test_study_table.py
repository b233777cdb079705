"""Reading tables and session folders, and refusing what cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from analysis.study.plausible import expected
from analysis.study.results import StudyError
from analysis.study.table import load, missing_sentence, prepare


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


def test_session_folder(tmp_path: Path) -> None:
    folder = tmp_path / "monday"
    folder.mkdir()
    pitch = {"v": 1, "source": "m", "number": 1, "pitcher": "P1", "speed_mps": None}
    other = {"v": 1, "source": "m", "not_counted": "step_off", "frame": 3.0, "why": "stepped off"}
    lines = [pitch | {"metrics": {"drive_peak_bw": 150.5}}, other]
    (folder / "pitches.jsonl").write_text("\n".join(map(json.dumps, lines)) + "\n")
    frame = load([folder])
    assert list(frame["session"]) == ["monday"]
    assert list(frame["drive_peak_bw"]) == [150.5]
    assert frame["speed_mps"].isna().all()


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
    with pytest.raises(StudyError, match="not a session folder"):
        load([tmp_path])
    (tmp_path / "pitches.jsonl").write_text('{"metrics": {}\n')
    with pytest.raises(StudyError, match="line 1"):
        load([tmp_path])


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
