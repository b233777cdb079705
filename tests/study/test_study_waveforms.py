"""Whole curves against the library's own published example, and the sentence without it."""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
import pytest
import spm1d

from analysis.study import waveforms
from analysis.study.results import StudyError
from analysis.study.table import Prepared, prepare


def long(curves: dict[tuple[str, str], np.ndarray]) -> Prepared:
    frames = [
        pd.DataFrame(
            {
                "pitcher": who,
                "group": group,
                "curve": f"{who}-{group}-{i}",
                "t": np.linspace(0, 0.7, curve.size),
                "fx_n": curve,
            }
        )
        for (who, group), many in curves.items()
        for i, curve in enumerate(many)
    ]
    return prepare(pd.concat(frames), ["fx_n", "t"], ["curve", "pitcher", "group"])


def ask(data: Prepared) -> waveforms.WaveformResult:
    return waveforms.estimate(
        data, "fx_n", time="t", curve="curve", pitcher="pitcher", group="group"
    )


def test_paired_example_of_the_library() -> None:
    # Caravaggi et al. 2010, Journal of Anatomy 217:254-261, plantar arch angles of ten people at
    # two speeds, as the library carries them; its own calculation on the raw arrays is the check.
    a, b = spm1d.data.uv1d.tpaired.PlantarArchAngle().get_data()
    curves = {(f"P{i}", g): arr[i][None] for g, arr in (("a", a), ("b", b)) for i in range(len(a))}
    found = ask(long(curves))
    theirs = spm1d.stats.ttest_paired(a, b).inference(0.05, two_tailed=True)
    assert found.design == "paired"
    assert found.n_pitchers == [10, 10]
    assert found.threshold == pytest.approx(theirs.zstar)
    assert found.t == pytest.approx(list(theirs.z))
    assert [s.p for s in found.stretches] == pytest.approx([c.P for c in theirs.clusters])
    assert found.stretches


def smooth(rng: np.random.Generator, count: int, points: int = 120) -> np.ndarray:
    """Invented smooth noise, N, (count, points)."""
    raw = rng.normal(0, 30, (count, points + 40))
    kernel = np.exp(-(np.linspace(-2, 2, 41) ** 2))
    return np.array([np.convolve(row, kernel / kernel.sum(), "valid") for row in raw])


def test_two_groups_find_the_planted_stretch_only() -> None:
    rng = np.random.default_rng(3)
    percent = np.linspace(0, 100, 120)
    bump = 60 * np.exp(-(((percent - 70) / 6) ** 2))
    curves = {(f"A{i}", "mound"): smooth(rng, 3) + bump for i in range(8)}
    curves |= {(f"B{i}", "flat"): smooth(rng, 4) for i in range(7)}
    found = ask(long(curves))
    assert found.design == "two groups"
    assert found.groups == ["flat", "mound"]
    assert found.n_pitchers == [7, 8]
    assert found.n_curves == 8 * 3 + 7 * 4
    assert [s.start_percent < 70 < s.end_percent for s in found.stretches] == [True]
    assert found.stretches[0].end_percent - found.stretches[0].start_percent < 40


def test_no_difference_gives_no_stretch() -> None:
    rng = np.random.default_rng(9)
    curves = {(f"P{i}", g): smooth(rng, 2) for i in range(8) for g in "ab"}
    assert ask(long(curves)).stretches == []


def test_degenerate_groups_get_a_sentence() -> None:
    rng = np.random.default_rng(1)
    with pytest.raises(StudyError, match="exactly two values"):
        ask(long({(f"P{i}", "a"): smooth(rng, 1) for i in range(4)}))
    with pytest.raises(StudyError, match="too few"):
        ask(long({(f"P{i}", g): smooth(rng, 1) for i in range(2) for g in "ab"}))


def test_without_the_library_there_is_a_clear_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "spm1d", None)
    with pytest.raises(StudyError, match="optional library spm1d"):
        waveforms.library()
