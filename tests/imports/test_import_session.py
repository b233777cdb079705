"""An invented session at a laboratory's rate: C3D in, the same core, the pitches known to be there.

What is true comes from the simulator's own formulas (analytic bodies), at any rate.
"""

from __future__ import annotations

import json
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from simulators.deck import Plates
from simulators.scenario import Plan, compose
from simulators.timeline import Scenario
from stream.files import load_layout
from tui.commands.main import main

TURN = np.diag([1.0, -1.0, -1.0])


def laboratory_file(path: Path, rate_hz: float) -> Scenario:
    """Write a session as a laboratory would: z of the plates down, mm, plates of TYPE 2."""
    layout = load_layout("two-plates")
    plan = Plan(seed=8, pitches=2, pitchers=1, quick=True, traffic=0.0)
    scenario = compose(plan, layout.deck)
    t = np.arange(round(scenario.duration * rate_hz)) / rate_hz
    raw = Plates(layout).read(scenario.contacts, t)
    raw += np.random.default_rng(1).normal(0, 0.5, raw.shape)
    for k in range(2):
        raw[:, 6 * k : 6 * k + 3] = raw[:, 6 * k : 6 * k + 3] @ TURN
        raw[:, 6 * k + 3 : 6 * k + 6] = 1000.0 * raw[:, 6 * k + 3 : 6 * k + 6] @ TURN
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [rate_hz]
    file["parameters"]["POINT"]["UNITS"]["value"] = ["mm"]
    file["parameters"]["ANALOG"]["RATE"]["value"] = [rate_hz]
    file["parameters"]["ANALOG"]["LABELS"]["value"] = [f"a{k}" for k in range(12)]
    file["data"]["points"] = np.zeros((4, 0, len(raw)))
    file["data"]["analogs"] = raw.T[None]
    corners = np.stack([1000.0 * p.corners[[3, 2, 1, 0]].T for p in layout.platforms], axis=2)
    file.add_parameter("FORCE_PLATFORM", "CORNERS", corners)
    file.add_parameter("FORCE_PLATFORM", "ORIGIN", np.zeros((3, 2)))
    platform = file["parameters"]["FORCE_PLATFORM"]
    platform["USED"]["value"] = [2]
    platform["TYPE"]["value"] = [2, 2]
    platform["ZERO"]["value"] = [1, 0]
    platform["CHANNEL"]["value"] = np.arange(1, 13).reshape(2, 6).T
    file.write(str(path))
    return scenario


@pytest.mark.parametrize("rate_hz", [100.0, 1000.0])
def test_pitches_of_an_imported_session(tmp_path: Path, rate_hz: float) -> None:
    path = tmp_path / "lab.c3d"
    scenario = laboratory_file(path, rate_hz)
    out, layout, lines = (tmp_path / name for name in ("a.mcap", "a.toml", "a.jsonl"))
    assert main(["import", str(path), "-o", str(out), "--layout-out", str(layout)]) == 0
    words = ["replay", str(out), "--layout", str(layout), "--jsonl", str(lines)]
    assert main(words) == 0
    records = [json.loads(line) for line in lines.read_text().splitlines()]
    found = [r for r in records if "number" in r]
    assert len(found) == len(scenario.pitches)
    for record, pitch in zip(found, scenario.pitches, strict=True):
        # Between samples, and to the model's own threshold: a few ms.
        assert record["foot_contact_frame"] / rate_hz == pytest.approx(pitch.contact, abs=0.008)
        truth = pitch.truth().metrics
        loose = 0.05 if rate_hz == 100.0 else 0.03
        for key in ("drive_peak_n", "landing_peak_n", "stride_m"):
            assert record["metrics"][key] == pytest.approx(truth[key], rel=loose), key
