"""What the review computes: selection, order, bands, moments, reasons, drawings to scale."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.curves import Component, Curves
from analysis.review.curve_sets import band, leg_curves, place_at, value_at
from analysis.review.reasons import why_missing
from analysis.review.selection import Order, Selection, Which, selected
from analysis.running import PitchRow, in_order, pitch_rows
from analysis.sessions.comparison import Difference
from stream.metrics import Lack, metric
from tests.review.invented_sessions import WEIGHT_N, record, step_off, traces, without
from tui.review.cells import csv_text, write_new
from tui.review.interval import REACH, axis_words, interval_drawn
from tui.widgets.pressure_path import close_up


def curve(offset: float, level: float) -> Curves:
    time_s = np.arange(-20, 21) / 200.0 + offset
    return Curves(time_s, np.full(41, level), 2.0 * time_s + level, "% BW")


def test_band_is_mean_and_sample_sd_at_the_same_time_from_foot_contact() -> None:
    # The curves are sampled at other fractions of a frame; a straight line stays what it is.
    sets = [curve(0.0, 100.0), curve(0.0012, 110.0), curve(-0.0021, 90.0), curve(0.004, 120.0)]
    found = band(sets, 200.0)
    assert found is not None
    at = int(np.flatnonzero(np.isclose(found.time_s, 0.05))[0])
    levels = [100.0, 110.0, 90.0, 120.0]
    assert found.count == 4
    assert found.drive[at] == pytest.approx(statistics.mean(levels))
    assert found.drive_sd[at] == pytest.approx(statistics.stdev(levels))
    assert found.lead[at] == pytest.approx(statistics.mean(levels) + 0.1)
    assert found.lead_sd[at] == pytest.approx(statistics.stdev(levels))


def test_band_goes_as_far_as_all_of_its_pitches_for_both_legs() -> None:
    holed = curve(0.0, 100.0)
    holed.drive[10:] = math.nan
    found = band([holed, curve(0.0, 110.0), curve(0.0, 90.0)], 200.0)
    assert found is not None
    assert np.isfinite(found.drive[5])
    assert np.isnan(found.drive[20])
    assert np.isfinite(found.lead[5])
    assert np.isnan(found.lead[20])


def test_no_band_of_two_or_of_mixed_units() -> None:
    assert band([curve(0.0, 1.0)] * 2, 200.0) is None
    plain = curve(0.0, 1.0)
    newtons = Curves(plain.time_s, plain.drive, plain.lead, "N")
    assert band([curve(0.0, 1.0), curve(0.0, 1.0), newtons], 200.0) is None


def test_newtons_or_body_weight() -> None:
    share = leg_curves(record(1), traces(160.0), Component.VERTICAL, newtons=False)
    force = leg_curves(record(1), traces(160.0), Component.VERTICAL, newtons=True)
    assert (share.unit, force.unit) == ("% BW", "N")
    assert share.drive.max() == pytest.approx(160.0)
    assert force.drive.max() == pytest.approx(160.0 * WEIGHT_N / 100.0)


def test_a_value_outside_the_curve_or_in_a_hole_is_none() -> None:
    time_s, values = np.array([0.0, 1.0, 2.0]), np.array([10.0, 20.0, math.nan])
    assert value_at(time_s, values, 0.25) == 12.5
    assert value_at(time_s, values, 1.5) is None
    assert value_at(time_s, values, -0.1) is None
    assert place_at(time_s, np.column_stack([values, values]), 1.5) is None


def test_order_puts_what_was_not_measured_last_either_way() -> None:
    records = [record(1, push=150.0), without(record(2), "drive_peak_bw", "feed_gap")]
    records.append(record(3, push=170.0))
    rows = in_order(pitch_rows(records), [step_off(1)])

    def numbers(falling: bool) -> list[int]:
        ordered = selected(rows, Selection(), Order("drive_peak_bw", falling))
        return [r.record.number for r in ordered if isinstance(r, PitchRow)]

    assert numbers(False) == [1, 3, 2]
    assert numbers(True) == [3, 1, 2]


def test_selections() -> None:
    records = [
        record(1, flags=("void",)),
        record(2, flags=("speed_typed",)),
        without(record(3), "stride_m", "place_unknown"),
        record(4, "P02", note="x"),
    ]
    rows = in_order(pitch_rows(records), [step_off(1)])

    def numbers(which: Which, pitcher: str | None = None) -> list[int]:
        found = selected(rows, Selection(pitcher, which), Order())
        assert all(isinstance(r, PitchRow) for r in found)
        return [r.record.number for r in found if isinstance(r, PitchRow)]

    assert len(selected(rows, Selection(), Order())) == 5
    assert numbers(Which.COUNTED) == [2, 3, 4]
    assert numbers(Which.VOID) == [1]
    # What somebody did is not something that could not be measured.
    assert numbers(Which.INCOMPLETE) == [3]
    assert numbers(Which.NOTED) == [4]
    assert numbers(Which.ALL, "P02") == [4]


def test_the_reason_of_a_missing_value_is_its_own() -> None:
    base = record(1, flags=("height_unknown", "no_brake_end", "place_unknown"))
    metrics = dict(base.metrics) | {
        "stride_height": None,
        "landing_braking_bw": None,
        "stride_m": None,
    }
    pitch = record(1, flags=base.flags, metrics=metrics)
    assert why_missing(pitch, metric("stride_height")) == ("height_unknown",)
    assert why_missing(pitch, metric("landing_braking_bw")) == ("no_brake_end",)
    assert why_missing(pitch, metric("stride_m")) == ("place_unknown",)
    assert why_missing(pitch, metric("drive_peak_bw")) == ()
    short = replace(metric("drive_peak_n"), lack=Lack.SHORT)
    both = record(1, flags=("place_unknown", "too_short"), metrics={**metrics, short.key: None})
    assert why_missing(both, short) == ("too_short",)


def test_close_up_is_square_and_holds_the_path() -> None:
    points = np.array([[1.0, 0.0], [1.5, 0.1], [math.nan, math.nan]])
    area = close_up(points)
    assert area is not None
    assert area.front - area.back == pytest.approx(area.left - area.right)
    assert area.back < 1.0
    assert area.front > 1.5
    assert close_up(points[2:]) is None


def test_an_interval_is_drawn_on_its_axis() -> None:
    width = 33
    # 4 of 8 spreads: half of the way from the middle (16) to the end (32).
    drawn = interval_drawn(Difference(8.0, -2.0, 18.0), 2.0, width)
    assert drawn.index("●") == 24
    assert drawn[16] == "┼"
    assert drawn.endswith("▶")
    assert len(axis_words(width)[1]) == width
    assert axis_words(width)[1].index("0") == 16
    assert f"+{REACH:g}" in axis_words(width)[1]
    assert interval_drawn(None, 2.0, width) == ""
    assert interval_drawn(Difference(8.0, -2.0, 18.0), None, width) == ""


def test_csv_runs_nothing_and_is_the_owners_alone(tmp_path: Path) -> None:
    text = csv_text([["a", "-1.5", "=1+1", '"q", x']])
    assert text == 'a,-1.5,\'=1+1,"""q"", x"\n'
    path = tmp_path / "x.csv"
    write_new(path, text)
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(FileExistsError):
        write_new(path, text)
