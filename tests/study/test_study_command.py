"""``moundfeed study`` as a user runs it: answers, files, exit codes, one clear line."""

from __future__ import annotations

import json
import re
import sys
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.study.cautions import CAUTIONS
from tui.commands.main import main

EFFECT = ["--outcome", "speed_mps", "--predictor", "drive_peak_bw", "--pitcher", "pitcher"]


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Invented pitches of nine pitchers on two days; pitchers' names try to break the page."""
    rng = np.random.default_rng(4)
    rows = []
    for i in range(9):
        centre, level = rng.normal(165, 18), rng.normal(0, 1)
        for day in ("d1", "d2"):
            for number in range(int(rng.integers(3, 7))):
                x = centre + rng.normal(0, 7)
                rows.append(
                    {
                        "pitcher": f"P<{i}>&$",
                        "day": day,
                        "number": number,
                        "drive_peak_bw": x,
                        "lab_bw": 1.01 * x + rng.normal(0, 2),
                        "speed_mps": 37 + level + 0.02 * (x - centre) + rng.normal(0, 0.3),
                        "mass_kg": 85.0 + i,
                    }
                )
    file = tmp_path / "pitches.csv"
    pd.DataFrame(rows).to_csv(file, index=False)
    return file


class Outside(HTMLParser):
    """Collects everything a page would fetch, and every tag."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.fetched += [
            value
            for name, value in attrs
            if name in ("src", "href", "xlink:href") and value and not value.startswith("#")
        ]


def page_of(file: Path, cautions: Sequence[str] = CAUTIONS) -> str:
    """The page, checked: self-contained, valid drawings, black and white, these cautions alone."""
    text = file.read_text("utf-8")
    seen = Outside()
    seen.feed(text)
    assert seen.fetched == []
    assert "script" not in seen.tags
    assert "@import" not in text
    drawings = re.findall(r"<svg .*?</svg>", text, flags=re.DOTALL)
    assert drawings
    for drawing in drawings:
        ET.fromstring(drawing)
        for red, green, blue in re.findall(r"#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})", drawing):
            assert red == green == blue
    for caution in CAUTIONS:
        assert (escape(caution) in text) is (caution in cautions)
    return text


def test_effect_writes_json_and_page(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, page = table.with_name("out.json"), table.with_name("out.html")
    code = main(["study", "effect", str(table), *EFFECT, "--json", str(out), "--html", str(page)])
    assert code == 0
    found = json.loads(out.read_text())
    frame = pd.read_csv(table)
    assert found["n_pitches"] == len(frame)
    assert found["n_pitchers"] == 9
    for kind in ("within", "between", "pooled"):
        slope = found[kind]
        assert slope["low"] < slope["slope"] < slope["high"]
        assert slope["se"] > 0
    line = np.polyfit(frame["drive_peak_bw"] / 10, frame["speed_mps"], 1)[0]
    assert found["pooled"]["slope"] == pytest.approx(line)
    said = capsys.readouterr().out
    assert "not advice to one pitcher" in said
    assert CAUTIONS[-1] in said
    text = page_of(page)
    assert "P&lt;0&gt;&amp;$" in text
    assert "P<0>" not in text


def test_reliability_agreement_correlate(table: Path) -> None:
    out, page = table.with_name("out.json"), table.with_name("out.html")
    files = ["--json", str(out), "--html", str(page)]
    who = ["--pitcher", "pitcher"]
    ask = ["--measure", "drive_peak_bw", "--day", "day", *who, *files]
    assert main(["study", "reliability", str(table), *ask]) == 0
    found = json.loads(out.read_text())
    assert found["low"] < found["icc"] < found["high"]
    assert found["mdc95"] == pytest.approx(1.959964 * np.sqrt(2) * found["sem"], rel=1e-6)
    assert found["between_days"]["n_days"] == 18
    page_of(page)
    pair = ["--ours", "drive_peak_bw", "--reference", "lab_bw"]
    assert main(["study", "agreement", str(table), *pair, *who, *files]) == 0
    found = json.loads(out.read_text())
    assert found["design"] == "varying"
    assert found["lower_limit"] == pytest.approx(found["bias"] - 1.959964 * found["sd"], rel=1e-6)
    assert found["upper_limit"] == pytest.approx(found["bias"] + 1.959964 * found["sd"], rel=1e-6)
    page_of(page, CAUTIONS[-1:])
    assert (
        main(["study", "correlate", str(table), "--x", "drive_peak_bw", "--y", "speed_mps", *who])
        == 0
    )


def test_covariates_and_several_predictors(table: Path) -> None:
    out = table.with_name("out.json")
    more = ["--predictor", "lab_bw", "--covariate", "mass_kg", "--covariate", "day"]
    assert main(["study", "effect", str(table), *EFFECT, *more, "--json", str(out)]) == 0
    found = json.loads(out.read_text())
    assert [p["predictor"] for p in found["predictors"]] == ["drive_peak_bw", "lab_bw"]
    assert found["n_tests"] == 4
    alone = [*EFFECT, *more[:2], "--separately", "--json", str(out)]
    assert main(["study", "effect", str(table), *alone]) == 0
    assert json.loads(out.read_text())["separate"]


def test_plan_from_an_effect(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, page = table.with_name("out.json"), table.with_name("plan.html")
    main(["study", "effect", str(table), *EFFECT, "--json", str(out)])
    plan = ["study", "plan", "--half-width", "0.3", "--like", str(out), "--sd-slope", "0.1"]
    sizes = ["--pitchers", "8,20", "--pitches", "5,10", "--studies", "200"]
    assert main([*plan, *sizes, "--html", str(page)]) == 0
    assert "SD 0.100" in capsys.readouterr().out
    page_of(page, CAUTIONS[-1:])


@pytest.mark.parametrize("begin_s", [0.0, 900.0])
def test_traces_by_pulse_and_by_correlation(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], begin_s: float
) -> None:
    ours, lab, page = (tmp_path / name for name in ("ours.csv", "lab.csv", "out.html"))
    for file, late, rate in ((ours, 0.0, 200), (lab, 0.1, 1000)):
        t = np.arange(0, 1.3, 1 / rate)
        pulse = np.clip((t - late - 0.2) / 0.02, 0, 1) * (t < late + 0.3)
        peak = 1900 * np.exp(-(((t - late - 0.6) / 0.05) ** 2))
        pd.DataFrame({"t_s": begin_s + t, "fz_n": peak, "sync": pulse}).to_csv(file, index=False)
    ask = ["study", "traces", str(ours), str(lab), "--column", "fz_n", "--html", str(page)]
    for more in ([], ["--pulse", "sync"]):
        assert main([*ask, *more]) == 0
        moved = re.search(r"moved by (-?[\d.]+) ms", capsys.readouterr().out)
        assert moved is not None
        assert float(moved[1]) == pytest.approx(-100, abs=0.5)
        assert ">value, unit of the files</text>" in page_of(page, CAUTIONS[-1:])


def test_waveforms_page(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)  # invented curves
    t = np.linspace(0, 0.7, 60)
    rows = [
        pd.DataFrame({"who": f"P{i}", "on": g, "id": f"{i}{g}", "t": t, "fx_n": level + bump})
        for i, level in enumerate(rng.normal(0, 50, 5))
        for g, size in (("flat", 0), ("mound", 80))
        for bump in [np.sin(9 * t + rng.normal(0, 0.2)) * 30 + size * (t > 0.4)]
    ]
    file, page = tmp_path / "w.parquet", tmp_path / "out.html"
    pd.concat(rows).to_parquet(file)
    ask = ["--value", "fx_n", "--time", "t", "--curve", "id", "--pitcher", "who", "--group", "on"]
    assert main(["study", "waveforms", str(file), *ask, "--html", str(page)]) == 0
    assert "5 pitchers, each in both groups" in page_of(page)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda f: f.assign(speed_mps=[900.0, *f["speed_mps"][1:]]), "row 1 says 900"),
        (lambda f: f[f["pitcher"] == f["pitcher"][0]], "one pitcher"),
        (lambda f: f.drop_duplicates("pitcher"), "only one pitch"),
        (lambda f: f.assign(drive_peak_bw=150.0), "150 in every row"),
        (lambda f: f.drop(columns="speed_mps"), "no column 'speed_mps'"),
    ],
)
def test_bad_tables_end_with_code_2_and_one_line(
    table: Path, capsys: pytest.CaptureFixture[str], change: object, sentence: str
) -> None:
    assert callable(change)
    change(pd.read_csv(table)).to_csv(table, index=False)
    assert main(["study", "effect", str(table), *EFFECT]) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert sentence in caught.err
    assert caught.err.count("\n") == 1


def test_missing_values_are_told(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    frame = pd.read_csv(table)
    frame.loc[[2, 5], "speed_mps"] = np.nan
    frame.to_csv(table, index=False)
    assert main(["study", "effect", str(table), *EFFECT]) == 0
    assert f"2 of {len(frame)} rows left out" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ["study", "effect", "none.csv", *EFFECT],
        ["study", "plan", "--half-width", "0.1"],
        ["study", "plan", "--half-width", "0.1", "--like", "none.json"],
    ],
)
def test_wrong_use_is_code_2(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_without_the_extra_the_way_to_install_it_is_said(
    table: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in [n for n in sys.modules if n.startswith("analysis.study")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "pandas", None)
    assert main(["study", "effect", str(table), *EFFECT]) == 2
    assert "'.[study]'" in capsys.readouterr().err


def test_three_pitchers_are_said_to_be_few_and_what_is_written_is_the_owners(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Invented: three pitchers, of whom leaving one out leaves no slope between."""
    random = np.random.default_rng(2)
    rows = [(f"P{i}", x := 160 + 8 * i + random.normal(0, 5), 36 + 0.02 * x) for i in range(3)]
    rows += [(p, x + random.normal(0, 5), v + random.normal(0, 0.3)) for p, x, v in rows * 6]
    table = tmp_path / "t.csv"
    pd.DataFrame(rows, columns=["pitcher", "x", "v"]).to_csv(table, index=False)
    words = ["study", "effect", str(table), "--outcome", "v", "--predictor", "x"]
    page = tmp_path / "page.html"
    assert main([*words, "--pitcher", "pitcher", "--html", str(page)]) == 0
    said = capsys.readouterr().out
    assert "3 pitchers are too few to say anything of pitchers in general" in said
    assert page.stat().st_mode & 0o077 == 0
