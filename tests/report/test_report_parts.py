"""Parts of a report with invented values: mean curves, tables in print, the edge of the usual."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from analysis import page
from analysis.baseline import Baseline, Comparison, Standing
from analysis.mean_curve import shared
from analysis.report import account, left_out, tables
from analysis.report.gather import Part, gather
from analysis.report.numbers import typeset
from analysis.sessions.runs import LoneSpeed
from stream.outputs import ZeroLearnt
from stream.wire import NS


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


def test_what_was_on_the_mound_at_a_ball_speed_without_a_pitch(part: Part) -> None:
    movement_ns = next(at for at in part.uncounted_ns if at is not None)
    number, contact_ns = next(iter(part.at_ns.items()))
    lone = (
        LoneSpeed(contact_ns + NS, 40.0),
        LoneSpeed(movement_ns + 3 * NS, 39.0),
        LoneSpeed(min(*part.at_ns.values(), movement_ns) - NS, 38.0),
    )
    made = replace(part, measured=replace(part.measured, lone_speeds=lone))
    said = "".join(left_out.left_out(made))
    words = re.findall(r"<td>(\d\d\.00)</td><td class='words'>([^<]*)", said)
    assert dict(words)["40.00"] == f"pitch {number}, which has another speed"
    assert dict(words)["39.00"].startswith("the movement at ")
    assert dict(words)["38.00"] == "no movement like a delivery"
    assert "But a ball of 39.00 m/s was measured 3.0 s later" in said


def test_sentences_of_the_program_get_the_signs_of_a_report() -> None:
    said = "The zero moved by -0.9 N (0.11% of body weight), seed-4 of 2025-04-01"
    assert typeset(said) == (
        "The zero moved by \N{MINUS SIGN}0.9 N (0.11 % of body weight), seed-4 of 2025-04-01"
    )


def test_loads_that_were_taken_out_are_told_with_what_to_do(part: Part) -> None:
    zero = part.measured.zeros[0]
    assert isinstance(zero, ZeroLearnt)
    zeros = (zero, msgspec.structs.replace(zero, load_n=243.0))
    said = "".join(account.check(replace(part, measured=replace(part.measured, zeros=zeros))))
    assert "by 243 N at most; each was taken out. Such loads are expected" in said
    assert "Look into it where nothing was laid down" in said
