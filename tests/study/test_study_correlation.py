"""Repeated-measures correlation and Holm's adjustment against published examples."""

from __future__ import annotations

import pandas as pd
import pingouin
import pytest

from analysis.study import correlation
from analysis.study.multiplicity import holm
from analysis.study.results import StudyError
from analysis.study.table import prepare


def test_bland_altman_1995_example() -> None:
    # Bland & Altman 1995, BMJ 310:446: r -0.51, p 0.0008; Bakdash & Marusich 2017, Frontiers in
    # Psychology 8:456: df 38. The means correlate 0.08. Data come with pingouin.
    frame = pingouin.read_dataset("rm_corr").astype({"Subject": str})
    data = prepare(frame, ["pH", "PacO2"], ["Subject"])
    found = correlation.estimate(data, "pH", "PacO2", "Subject")
    assert round(found.r, 2) == -0.51
    assert found.df == 38
    assert found.p == pytest.approx(0.0008471081, rel=1e-6)
    assert found.r_means == pytest.approx(0.08, abs=0.005)
    theirs = pingouin.rm_corr(data=frame, x="pH", y="PacO2", subject="Subject")
    assert found.r == pytest.approx(float(theirs["r"].iloc[0]), abs=1e-9)
    low, high = next(theirs[c].iloc[0] for c in theirs.columns if c.startswith("CI95"))
    assert [found.low, found.high] == pytest.approx([low, high], abs=0.006)


def test_pitchers_with_one_pitch_add_nothing() -> None:
    frame = pingouin.read_dataset("rm_corr").astype({"Subject": str})
    lone = pd.DataFrame({"Subject": ["9"], "pH": [9.0], "PacO2": [20.0]})
    both = pd.concat([frame, lone], ignore_index=True)
    one, two = (
        correlation.estimate(prepare(f, ["pH", "PacO2"], ["Subject"]), "pH", "PacO2", "Subject")
        for f in (frame, both)
    )
    assert two.r == pytest.approx(one.r)
    assert two.df == one.df


def test_constant_within_gets_a_sentence() -> None:
    frame = pd.DataFrame({"who": list("AABB"), "x": [1.0, 1, 2, 2], "y": [1.0, 2, 3, 5]})
    with pytest.raises(StudyError, match="'x' does not change"):
        correlation.estimate(prepare(frame, ["x", "y"], ["who"]), "x", "y", "who")


def test_holm_by_hand() -> None:
    # Holm 1979: smallest p times 4, next times 3, ..., never falling. By hand: 0.01 x 4 = 0.04;
    # 0.02 x 3 = 0.06; 0.03 x 2 = 0.06; 0.5 x 1.
    assert holm([0.03, 0.01, 0.5, 0.02]) == pytest.approx([0.06, 0.04, 0.5, 0.06])
    assert holm([0.4, 0.9]) == pytest.approx([0.8, 0.9])
    assert holm([]) == []
