"""The marked spot by the C3D library's force platforms, from the very channels the check reads.

ezc3d computes centre of pressure and force from TYPE 2 (forces and moments) and TYPE 4 (the same
through a calibration matrix) platforms of the C3D standard; lengths in mm, moments in N mm. Its
channels hold the action on the plate in plate axes with z down; ours the reaction with z up.
"""

from __future__ import annotations

from pathlib import Path

import ezc3d
import numpy as np
import pytest

from stream.checks.diagnosis import diagnose
from tests.checks.bench import SPOT, Bench


def _library_places(path: Path, bench: Bench, kind: int) -> np.ndarray:
    lay = bench.layout
    evidence = bench.evidence()
    assert evidence.loaded is not None
    assert evidence.quiet is not None
    rows = evidence.loaded.samples - evidence.quiet.samples.mean(axis=0)
    file = ezc3d.c3d()
    rows = rows.copy()  # moments in N mm, as lengths are in mm
    for p in lay.platforms:
        rows[:, list(p.channels[3:])] *= 1000.0
    file["parameters"]["ANALOG"]["RATE"]["value"] = [200.0]
    file["parameters"]["ANALOG"]["LABELS"]["value"] = [f"c{k}" for k in range(12)]
    file["parameters"]["POINT"]["RATE"]["value"] = [200.0]
    file["data"]["analogs"] = rows.T[None, :, :]
    file["data"]["points"] = np.zeros((4, 0, len(rows)))
    platform = file["parameters"]["FORCE_PLATFORM"]
    corners = np.stack([1000.0 * p.corners.T for p in lay.platforms], axis=2)
    file.add_parameter("FORCE_PLATFORM", "CORNERS", corners)
    file.add_parameter("FORCE_PLATFORM", "ORIGIN", np.zeros((3, 2)))
    channels = np.array([p.channels for p in lay.platforms]).T + 1
    if kind == 4:
        matrix = np.stack([np.eye(6), np.eye(6)], axis=2)
        file.add_parameter("FORCE_PLATFORM", "CAL_MATRIX", matrix)
    # Integers must be set in place: add_parameter would store them as reals.
    platform["USED"]["value"] = [2]
    platform["TYPE"]["value"] = [kind, kind]
    platform["ZERO"]["value"] = [1, 0]
    platform["CHANNEL"]["value"] = channels
    file.write(str(path))
    plates = ezc3d.c3d(str(path), extract_forceplat_data=True)["data"]["platform"]
    return np.asarray(plates[1]["center_of_pressure"])


@pytest.mark.parametrize("kind", [2, 4])
def test_centre_of_pressure_agrees_with_the_library(tmp_path: Path, kind: int) -> None:
    bench = Bench("two-plates", seed=6, noise=0.5)
    library = _library_places(tmp_path / "spot.c3d", bench, kind)[:2].mean(axis=1) / 1000.0
    seen = diagnose(bench.evidence()).seen
    assert seen is not None
    assert seen.place is not None
    np.testing.assert_allclose(seen.place, library, atol=5e-4)
    np.testing.assert_allclose(library, SPOT, atol=2e-3)
