"""The yearly check finds planted errors of gain and place, and its matrix mends them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.mound_check.calibration import offers
from analysis.mound_check.errors import linearity, rows
from analysis.mound_check.placements import GridError, Placement, measure, read_placements
from stream.layout import Layout
from stream.wire import ForceMessage
from tests.checks.bench import RATE, Array, G, layout, reads
from tui.commands.grid_check import run_grid

SPOTS = [(x, y) for x in (0.45, 1.30, 2.25) for y in (-0.5, 0.5)]
PLACES = [Placement(m, s) for s in SPOTS for m in (21.0, 42.0)]
#: An invented misalignment of the front plate's Fz, Mx, My: a few per cent and some cross-talk.
WRONG = np.array([[1.03, 0.004, 0.0], [0.02, 0.98, 0.01], [-0.03, 0.0, 1.05]])


def _feed(lay: Layout, places: list[Placement], wrong: Array | None, noise: float = 0.5) -> Array:
    rng = np.random.default_rng(8)
    parts = [np.zeros((600, lay.channels))]
    for p in places:
        ideal = reads(lay, p.mass_kg, p.spot)
        if wrong is not None:
            index = list(lay.platforms[-1].channels)[2:5]
            ideal[index] = wrong @ ideal[index]
        ramp = np.linspace(0, 1, 60)[:, None] * ideal
        parts += [ramp, np.tile(ideal, (600, 1)), ramp[::-1], np.zeros((600, lay.channels))]
    out = np.concatenate(parts)
    return out + noise * rng.standard_normal(out.shape) + rng.normal(0, 8.0, lay.channels)


def _messages(samples: Array) -> Iterator[ForceMessage]:
    for first in range(0, len(samples), 20):
        part = samples[first : first + 20].astype(np.float32)
        yield ForceMessage("m", "s", first, round(first / RATE * 1e9), RATE, part)


def test_a_faultless_deck_is_within_limits_and_linear() -> None:
    lay = layout("two-plates")
    samples = _feed(lay, PLACES, None)
    table = rows(lay, measure(lay, PLACES, lambda: _messages(samples), G), G)
    assert all(r.ok for r in table)
    (line,) = linearity(table)
    assert line.slope == pytest.approx(1.0, abs=4 * line.slope_se + 1e-4)
    assert line.worst_share < 0.002


def test_linearity_is_the_certified_line_of_nist_norris() -> None:
    # NIST StRD Norris: certified slope 1.00211681802045 (SE 0.000429796848199937), intercept
    # -0.262323073774029 (SE 0.232818234301152).
    from importlib.resources import files

    from analysis.mound_check.errors import Row

    text = (files("scipy.stats") / "tests" / "data" / "nist_linregress" / "Norris.dat").read_text()
    data = np.array([line.split() for line in text.splitlines()[60:96]], dtype=float)
    table = [
        Row(1.0, 0.0, 0.0, "plate", float(x), float(y), 0.0, 0.0, None, None, True) for y, x in data
    ]
    (line,) = linearity(table)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert line.slope_se == pytest.approx(0.000429796848199937, rel=1e-8)
    assert line.intercept_n == pytest.approx(-0.262323073774029, rel=1e-8)
    assert line.intercept_se == pytest.approx(0.232818234301152, rel=1e-8)


def test_the_offered_matrix_mends_a_misaligned_plate() -> None:
    lay = layout("two-plates")
    samples = _feed(lay, PLACES, WRONG)
    before = measure(lay, PLACES, lambda: _messages(samples), G)
    table = rows(lay, before, G)
    assert not any(r.ok for r in table)
    (offer,) = offers(lay, before, G)
    np.testing.assert_allclose(offer.rows, np.linalg.inv(WRONG), atol=0.004)
    away = np.abs(np.array(offer.rows) - np.linalg.inv(WRONG)) / np.array(offer.se)
    assert away.max() < 4.5
    front = replace(lay.platforms[1], calibration=np.array(offer.calibration))
    mended = replace(lay, platforms=(lay.platforms[0], front))
    after = rows(mended, measure(mended, PLACES, lambda: _messages(samples), G), G)
    assert all(r.ok for r in after)


def test_a_weak_cell_is_found_and_its_gain_told() -> None:
    lay = layout("four-corner")
    samples = _feed(lay, PLACES, None)
    samples[:, :3] *= 0.9
    measured = measure(lay, PLACES, lambda: _messages(samples), G)
    (offer,) = offers(lay, measured, G)
    gains = np.diag(offer.rows)
    np.testing.assert_allclose(gains, [1 / 0.9, 1.0, 1.0, 1.0], atol=0.01)


def test_spots_on_one_line_offer_no_matrix() -> None:
    lay = layout("two-plates")
    places = [Placement(21.0, (x, 0.3)) for x in (0.5, 0.8, 1.1, 1.4, 1.7, 2.0)]
    samples = _feed(lay, places, None)
    assert offers(lay, measure(lay, places, lambda: _messages(samples), G), G) == []


def test_a_list_that_does_not_fit_the_recording_is_refused(tmp_path: Path) -> None:
    lay = layout("two-plates")
    samples = _feed(lay, PLACES[:3], None)
    with pytest.raises(GridError, match="the list has 4 placements, the recording 3"):
        measure(lay, PLACES[:4], lambda: _messages(samples), G)
    bad = tmp_path / "places.csv"
    bad.write_text("mass_kg,x_m,y_m\n21,9,0\n")
    with pytest.raises(GridError, match="not a mass on this deck"):
        read_placements(bad, lay)
    bad.write_text("kg,x_m,y_m\n21,1,0\n")
    with pytest.raises(GridError, match="columns are mass_kg"):
        read_placements(bad, lay)


def test_the_command_prints_table_json_and_plot(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lay = layout("two-plates")
    samples = _feed(lay, PLACES, WRONG)
    places = tmp_path / "places.csv"
    lines = [f"{p.mass_kg},{p.spot[0]},{p.spot[1]}" for p in PLACES]
    places.write_text("\n".join(["mass_kg,x_m,y_m", *lines]))
    out, plot = tmp_path / "grid.json", tmp_path / "grid.svg"
    code = run_grid(lay, places, lambda: _messages(samples), G, json_path=out, plot_path=plot)
    assert code == 1
    text = capsys.readouterr().out
    assert "OUT" in text
    assert "not applied" in text
    content = json.loads(out.read_text())
    assert content["ok"] is False
    assert len(content["placements"]) == len(PLACES)
    assert plot.read_text().lstrip().startswith("<?xml")
