"""Pages of the study bench in words: names, units, days that were pooled, keys (invented data)."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.study import names
from analysis.study.table import load, missing_sentence, prepare
from analysis.study.words import alike, interval_ends
from tui.commands.main import main

WHO = ["--pitcher", "pitcher"]
MEASURE = ["--measure", "landing_peak_bw"]


def table(file: Path, *, pitchers: int = 3, sessions: tuple[str, ...] = ("may", "june")) -> Path:
    """Pitches of ``pitchers`` in each session, as an export has them; one has no ball speed."""
    rng = np.random.default_rng(7)
    rows = []
    for session in sessions:
        for number in range(1, 8 * pitchers + 1):
            who = number % pitchers
            peak = 180 + 12 * who + rng.normal(0, 6)
            rows.append(
                {
                    "session": session,
                    "number": number,
                    "pitcher": f"P{who:02d}",
                    "landing_peak_bw": peak,
                    "speed_mps": 36 + 0.03 * peak + rng.normal(0, 0.3),
                    "my_own": rng.normal(0, 1),
                }
            )
    rows[-2]["speed_mps"] = np.nan
    pd.DataFrame(rows).to_csv(file, index=False)
    return file


def answer(question: str, *words: str | Path) -> str:
    """Return the page of an answer, its tags taken away."""
    page = Path(str(words[0])).with_name(f"{question}.html")
    assert main(["study", question, *map(str, words), "--html", str(page)]) == 0
    text = re.sub(r"<style>.*?</style>", "", page.read_text("utf-8"), flags=re.DOTALL)
    return unescape(re.sub(r"<[^>]+>", "\n", text))


EFFECT = ["--outcome", "speed_mps", "--predictor", "landing_peak_bw", "--per", "10", *WHO]


def test_titles_sentences_and_axes_have_names_and_units(tmp_path: Path) -> None:
    said = answer("effect", table(tmp_path / "t.csv"), *EFFECT)
    assert "Does landing peak go with ball speed?" in said
    assert "where landing peak is 10 % of body weight above the pitcher's own mean" in said
    assert re.search(r"ball speed is on average [\d.]+ m/s (higher|lower)", said)
    assert "\nLanding peak, % body weight\n" in said
    assert "\nBall speed, m/s\n" in said
    assert "change of ball speed, m/s, per 10 % of body weight of landing peak" in said
    assert "landing_peak_bw" not in said
    assert "How far can landing peak be believed?" in answer(
        "reliability", tmp_path / "t.csv", *MEASURE, *WHO
    )


def test_a_column_that_the_program_does_not_know_keeps_its_name(tmp_path: Path) -> None:
    said = answer("correlate", table(tmp_path / "t.csv"), "--x", "my_own", "--y", "speed_mps", *WHO)
    assert "Do my_own and ball speed move together within pitchers?" in said
    assert "\nmy_own\n" in said
    assert names.axis("my_own") == "my_own"
    assert names.of_unit("my_own") == ""


def test_days_that_are_taken_as_one_pool_are_said_to_be(tmp_path: Path) -> None:
    two, one = table(tmp_path / "t.csv"), table(tmp_path / "one.csv", sessions=("may",))
    pool = "The pitches of 2 sessions are taken as one pool"
    said = answer("correlate", two, "--x", "landing_peak_bw", "--y", "speed_mps", *WHO)
    assert pool in said
    assert "so the interval is narrower than the truth" in said
    assert pool in answer("effect", two, *EFFECT)
    assert pool in answer("reliability", two, *MEASURE, *WHO)
    assert pool not in answer("reliability", two, *MEASURE, *WHO, "--day", "session")
    assert "one pool" not in answer("effect", one, *EFFECT)


def test_pitches_for_a_stable_mean_are_those_of_one_day(tmp_path: Path) -> None:
    file = table(tmp_path / "t.csv")
    said = answer("reliability", file, *MEASURE, *WHO, "--day", "session")
    assert "Pitches whose mean reaches a reliability within one day: " in said
    assert "Pitches for a stable mean within one day" in said
    assert "within one day; dotted" in said
    assert "a reliability within the pitches given: " in answer("reliability", file, *MEASURE, *WHO)


def test_one_pair_of_terms_with_the_other_named_once(tmp_path: Path) -> None:
    said = answer("reliability", table(tmp_path / "t.csv"), *MEASURE, *WHO)
    for once in ("standard error of measurement", "minimal detectable change"):
        assert said.count(once) == 1, once
    assert said.count("ypical error") > 2
    assert "SEM" not in said
    assert "MDC" not in said


def test_what_is_missing_is_named_by_session_and_pitch(tmp_path: Path) -> None:
    data = prepare(load([table(tmp_path / "t.csv")]), ["speed_mps"], ["pitcher"])
    assert "(speed_mps 1); session and pitch: june 23." in missing_sentence(data.missing)
    said = answer("effect", tmp_path / "t.csv", *EFFECT)
    assert "\nsession\n\npitch\n\nmissing\n" in said
    assert "\njune\n\n23\n" in said


def test_more_than_a_few_are_counted(tmp_path: Path) -> None:
    frame = pd.read_csv(table(tmp_path / "t.csv"))
    frame.loc[:7, "speed_mps"] = np.nan
    said = missing_sentence(prepare(frame, ["speed_mps"], ["pitcher"]).missing)
    assert said.endswith("session and pitch: may 1, 2, 3, 4, 5 and 4 more.")


@pytest.mark.parametrize(("pitchers", "key"), [(3, True), (12, False)])
def test_shapes_have_a_key_where_each_pitcher_has_one(
    tmp_path: Path, pitchers: int, key: bool
) -> None:
    said = answer(
        "correlate",
        table(tmp_path / "t.csv", pitchers=pitchers),
        *["--x", "landing_peak_bw", "--y", "speed_mps", *WHO],
    )
    assert ("\nP02\n" in said) is key
    assert ("tell pitchers apart, where they do not recur" in said) is not key


def test_there_is_no_empty_panel_of_slopes_that_cannot_be_had(tmp_path: Path) -> None:
    few = answer("effect", table(tmp_path / "t.csv"), *EFFECT)
    assert "within, without ..." in few
    assert "between, without ..." not in few
    assert "With one pitcher fewer the slope between pitchers cannot be had." in few
    many = answer("effect", table(tmp_path / "many.csv", pitchers=9), *EFFECT)
    assert "between, without ..." in many
    assert "cannot be had" not in many


def test_labels_of_limits_stand_beside_the_points(tmp_path: Path) -> None:
    file = table(tmp_path / "t.csv")
    pair = ["--ours", "landing_peak_bw", "--reference", "my_own"]
    page = tmp_path / "page.html"
    assert main(["study", "agreement", str(file), *pair, "--html", str(page)]) == 0
    drawing = page.read_text("utf-8")
    frame = re.search(r'id="patch_2">\s*<path d="M [\d.]+ [\d.]+\s+L ([\d.]+) ', drawing)
    assert frame is not None
    labels = re.findall(r'x="([\d.]+)"[^>]*>(?:bias|lower limit|upper limit)</text>', drawing)
    assert len(labels) == 3
    assert all(float(x) > float(frame[1]) for x in labels)


def test_an_interval_has_one_number_of_decimals() -> None:
    assert alike(0.55, 0.0792, 0.9) == ["0.550", "0.079", "0.900"]
    assert interval_ends(-5.2, 4.448) == "-5.20 to 4.45"


def test_agreement_of_columns_in_different_units_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pair = ["--ours", "landing_peak_bw", "--reference", "speed_mps"]
    assert main(["study", "agreement", str(table(tmp_path / "a.csv")), *pair, *WHO]) == 2
    said = capsys.readouterr().err
    assert "landing_peak_bw is in % BW, speed_mps in m/s" in said
    assert "two columns of one unit" in said
