"""Joining a CSV: by number and by time, and what stays alone on both sides."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.sessions.join import Target, join
from analysis.sessions.join_file import read_join
from stream.files import FileError

AT = 1_764_000_000_000_000_000
TARGETS = [Target(n, "P01" if n < 3 else "P02", AT + n * 20_000_000_000) for n in range(1, 5)]


def written(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def test_by_number_with_speed_in_mph(tmp_path: Path) -> None:
    text = (
        "\ufeffpitch,pitcher,speed_mph,elbow_nm,kind\n"
        "1,P01,90,61.5,straight\n"
        "2,P02,91,60,straight\n"
        "4,,500,x,curve\n"
        "3,P02,,70,curve\n"
        "9,P02,90,71,curve\n"
        "?,P02,90,71,curve\n"
    )
    made = join(read_join(written(tmp_path / "radar.csv", text)), TARGETS)
    assert made.by == "pitch"
    # NIST SP 811: 90 mph = 40.2336 m/s.
    assert made.values[1] == {"speed_mps": pytest.approx(40.2336, abs=1e-9), "elbow_nm": 61.5}
    assert made.values[3] == {"elbow_nm": 70.0}
    assert made.values[4] == {}
    assert [q.key for q in made.quantities] == ["speed_mps", "elbow_nm"]
    assert made.rows_alone == (
        (3, "it says pitcher P02, not P01"),
        (6, "there is no pitch 9"),
        (7, "it gives no pitch number"),
    )
    assert made.pitches_alone == (2,)
    assert made.sentences == (
        "Line 4: a ball speed of 223.52 m/s cannot be; left out.",
        "Line 4: elbow_nm 'x' is not a number.",
        "Columns without any number, left out: kind.",
    )


def test_a_number_claimed_twice_belongs_to_neither(tmp_path: Path) -> None:
    made = join(read_join(written(tmp_path / "x.csv", "pitch,m\n1,5\n1,6\n2,7\n")), TARGETS)
    assert set(made.values) == {2}
    assert made.rows_alone == ((2, "2 rows say pitch 1"), (3, "2 rows say pitch 1"))
    assert made.pitches_alone == (1, 3, 4)


def test_by_time_with_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    # AT is 2025-11-24T16:00:00Z; pitch n is 20 n seconds later.
    text = (
        "time;knee_deg\n"
        "2025-11-24T16:00:20.400Z;41,5\n"
        "2025-11-24T17:00:41.5+01:00;42\n"
        f"{AT / 1e9 + 39.9:.3f};43\n"
        "2025-11-24T16:01:10Z;44\n"
        "2025-11-24T16:01:20;45\n"
    )
    made = join(read_join(written(tmp_path / "x.csv", text)), TARGETS)
    assert made.by == "time"
    assert made.values == {1: {"knee_deg": 41.5}, 2: {"knee_deg": 43.0}}
    assert made.rows_alone == (
        (3, "another row lies nearer to pitch 2"),
        (5, "no foot contact within 2 s of it"),
        (6, "it gives no time that can be read (ISO 8601 with a zone?)"),
    )
    assert made.pitches_alone == (3, 4)
    assert made.sentences == ("The file's times lie +0.15 s from foot contact (median).",)


def test_clocks_that_do_not_agree_are_said(tmp_path: Path) -> None:
    made = join(read_join(written(tmp_path / "x.csv", "time,m\n2020-01-01T00:00Z,5\n")), TARGETS)
    assert made.values == {}
    assert "do the two clocks agree" in made.sentences[-1]
    assert join(read_join(tmp_path / "x.csv"), []).pitches_alone == ()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("number,m\n1,2\n", "needs a column 'pitch'"),
        ("pitch,speed_mps,speed_mph\n1,2,3\n", "gives ball speed twice"),
        ("pitch,m,m\n1,2,3\n", "two columns of the same name"),
        ("pitch,m\n", "has no rows"),
        ("", "needs a column"),
        ('pitch,m\n1,"a\n', "x.csv: "),
    ],
)
def test_what_cannot_be_joined_is_refused(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(FileError, match=says):
        read_join(written(tmp_path / "x.csv", text))


def test_files_that_are_no_text(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="No such file"):
        read_join(tmp_path / "none.csv")
    (tmp_path / "x.csv").write_bytes(b"pitch\xff\xfe")
    with pytest.raises(FileError, match="UTF-8"):
        read_join(tmp_path / "x.csv")
