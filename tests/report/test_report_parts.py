"""Parts of a report with invented values: mean curves, tables in print, the edge of the usual."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis import page
from analysis.baseline import Baseline, Comparison, Standing
from analysis.report import account, tables
from analysis.report.curves import shared
from analysis.report.gather import Part, gather
from stream.outputs import ZeroLearnt


@pytest.fixture(scope="module")
def part(told: Path) -> Part:
    (made,) = gather([told])
    return made


def ragged(lengths: list[int], last: int = 20) -> np.ndarray:
    """Curves (pitches, last), each at its own level, known up to their ``lengths``."""
    values = np.tile(np.arange(float(len(lengths)))[:, None] * 100.0, (1, last))
    for row, length in enumerate(lengths):
        values[row, length:] = np.nan
    return values


def test_a_mean_is_of_the_same_pitches_from_end_to_end() -> None:
    values = ragged([*range(38, 20, -1), 18, 3], last=40)
    rows, times = shared(values)
    # Of twenty the last is broken; nineteen go on to 18: there the mean ends.
    assert rows.tolist() == [True] * 19 + [False]
    assert times.tolist() == [True] * 18 + [False] * 22
    mean = values[np.ix_(rows, times)].mean(axis=0)
    assert np.ptp(mean) == 0.0  # no jump where a pitch ends


def test_of_few_pitches_the_mean_ends_with_the_first() -> None:
    rows, times = shared(ragged([20, 15, 7]))
    assert rows.all()
    assert np.flatnonzero(times).tolist() == list(range(7))


def test_where_holes_are_here_and_there_the_mean_has_them() -> None:
    values = ragged([20] * 5)
    for row in range(5):
        values[row, 3 * row] = np.nan
    rows, times = shared(values)
    assert rows.all()
    assert np.flatnonzero(~times).tolist() == [0, 3, 6, 9, 12]


def test_a_short_table_stays_whole_in_print_and_a_long_one_may_part() -> None:
    short = page.table("a", ("b",), [("1",)] * page.MOST_WHOLE)
    long = page.table("a", ("b",), [("1",)] * (page.MOST_WHOLE + 1))
    assert short.startswith("<table><caption>")
    assert long.startswith("<table class='long'><caption>")
    style = page.document("t", []).partition("@media print")[2].partition("</style>")[0]
    for rule in (
        "table { break-inside: avoid; }",
        "table.long { break-inside: auto; }",
        "caption { break-after: avoid; }",
    ):
        assert rule in style


def test_the_edge_of_the_usual_has_its_heading(part: Part) -> None:
    base = Baseline(8, 100.0, 2.0, True)
    edge = (Comparison("drive_peak_bw", 106.0, base, 6.0, 3.0, Standing.EDGE),)
    apart = (Comparison("drive_peak_bw", 120.0, base, 20.0, 10.0, Standing.APART),)
    numbers = [r.number for r in part.pitches]
    standings = dict.fromkeys(numbers, edge) | {numbers[0]: apart}
    made = tables.unlike(replace(part, standings=standings))
    heading = made.index("<h4>At the edge of the usual</h4>")
    before, after = "".join(made[:heading]), "".join(made[heading:])
    assert before.count("<li>Pitch") == 1
    assert after.count("<li>Pitch") == len(numbers) - 1
    assert f"<p>{len(numbers) - 1} pitches lie" in after
    none = "".join(tables.unlike(replace(part, standings=dict.fromkeys(numbers, apart))))
    assert "At the edge" not in none


def test_loads_that_were_taken_out_are_told_with_what_to_do(part: Part) -> None:
    zero = part.measured.zeros[0]
    assert isinstance(zero, ZeroLearnt)
    zeros = (zero, replace(zero, load_n=243.0))
    said = "".join(account.check(replace(part, measured=replace(part.measured, zeros=zeros))))
    assert "by 243 N at most; each was taken out. Such loads are expected" in said
    assert "Look into it where nothing was laid down" in said
