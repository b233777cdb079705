"""Invented C3D files with force platforms, written by the C3D library (ezc3d)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import ezc3d
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

CHANNELS = {1: 6, 2: 6, 3: 8, 4: 6}
#: Two plates behind each other, mm, laboratory z up. By the standard a floor plate's z points
#: down, so its +y corner lies at smaller laboratory y.
REAR = np.array([[600.0, -300, 0], [0, -300, 0], [0, 300, 0], [600, 300, 0]])
FRONT = REAR + np.array([620.0, 0, 0])
#: A calibration matrix with crosstalk (invented).
MATRIX = np.diag([100.0, 100, 200, 60000, 40000, 30000]) * (
    np.eye(6) + 0.01 * np.sin(np.arange(36.0)).reshape(6, 6)
)


@dataclass
class Made:
    """What a file is made of; ``turn`` (3, 3) turns laboratory places, for other axes."""

    kinds: Sequence[int] = (2, 2)
    corners: Sequence[Array] = (REAR, FRONT)
    frames: int = 400
    rate_hz: float = 1000.0
    per_point: int = 4
    sign: float = 1.0
    origin_z: float = -40.0
    turn: Array = field(default_factory=lambda: np.eye(3))
    length_unit: str = "mm"
    scale: float = 1.0
    units: Sequence[str] | None = None
    extra: Sequence[tuple[str, Array]] = ()


def channels_of(kind: int, frames: int, seed: int) -> Array:
    """Return a plate's channels (k, frames) under an invented foot, reaction, plate axes."""
    rng = np.random.default_rng(seed)
    bump = 900.0 + 700.0 * np.sin(np.linspace(0, 9, frames))
    fx, fy, fz = 0.3 * bump, 0.1 * bump - 20, -bump  # z of a floor plate points down
    px, py = 80 * np.sin(np.linspace(0, 4, frames)), 60 * np.cos(np.linspace(0, 3, frames))
    tz = 4000 * np.sin(np.linspace(0, 6, frames))
    noise = rng.normal(0, 1, (8, frames))
    if kind == 1:
        return np.vstack([fx, fy, fz, px, py, tz]) + noise[:6]
    if kind == 3:
        share = 0.25 + 0.02 * noise[4:8]
        return np.vstack([fx / 2, fx / 2, fy / 2, fy / 2, *(fz * share)]) + noise
    # About the sensor, 40 mm below the surface.
    az = -40.0
    moments = np.vstack([py * fz + az * -fy, -px * fz + az * fx, tz + px * fy - py * fx])
    wrench = np.vstack([fx, fy, fz, moments]) + noise[:6]
    return wrench if kind == 2 else np.linalg.solve(MATRIX, wrench)


def write_c3d(path: Path, made: Made) -> Path:
    """Write the file and return its path."""
    file = ezc3d.c3d()
    blocks = [
        made.sign * _scaled(channels_of(kind, made.frames, 10 + k), kind, made.scale)
        for k, kind in enumerate(made.kinds)
    ]
    blocks += [values[None, :] for _, values in made.extra]
    data = np.concatenate(blocks)
    labels = [f"a{k}" for k in range(len(data) - len(made.extra))] + [n for n, _ in made.extra]
    parameters = file["parameters"]
    parameters["POINT"]["RATE"]["value"] = [made.rate_hz / made.per_point]
    if made.length_unit:
        parameters["POINT"]["UNITS"]["value"] = [made.length_unit]
    parameters["ANALOG"]["RATE"]["value"] = [made.rate_hz]
    parameters["ANALOG"]["LABELS"]["value"] = labels
    if made.units:
        parameters["ANALOG"]["UNITS"]["value"] = list(made.units)
    file["data"]["points"] = np.zeros((4, 0, made.frames // made.per_point))
    file["data"]["analogs"] = data[None]
    _platforms(file, made)
    file.write(str(path))
    return path


def _scaled(values: Array, kind: int, scale: float) -> Array:
    """Lengths (TYPE 1) and moments in another unit of length."""
    out = values.copy()
    if kind == 1:
        out[3:6] *= scale
    elif kind in (2, 4) and scale != 1.0:
        out[3:] *= scale
    return out


def _platforms(file: Any, made: Made) -> None:
    count = len(made.kinds)
    most = max(CHANNELS[kind] for kind in made.kinds)
    channel = np.zeros((most, count), dtype=int)
    first = 1
    for k, kind in enumerate(made.kinds):
        channel[: CHANNELS[kind], k] = np.arange(first, first + CHANNELS[kind])
        first += CHANNELS[kind]
    corners = np.stack([(c @ made.turn.T).T * made.scale for c in made.corners], axis=2)
    origins = [
        [120.0, 200.0, made.origin_z] if kind == 3 else [0.0, 0.0, made.origin_z]
        for kind in made.kinds
    ]
    file.add_parameter("FORCE_PLATFORM", "CORNERS", corners)
    file.add_parameter("FORCE_PLATFORM", "ORIGIN", np.array(origins).T * made.scale)
    if 4 in made.kinds:
        file.add_parameter("FORCE_PLATFORM", "CAL_MATRIX", np.stack([MATRIX] * count, axis=2))
    platform = file["parameters"]["FORCE_PLATFORM"]
    # Integers are set in place: add_parameter would store them as reals.
    platform["USED"]["value"] = [count]
    platform["TYPE"]["value"] = list(made.kinds)
    platform["ZERO"]["value"] = [1, 0]
    platform["CHANNEL"]["value"] = channel


def library_platforms(path: Path) -> list[dict[str, Any]]:
    """Return what the C3D library computes for each platform."""
    return list(ezc3d.c3d(str(path), extract_forceplat_data=True)["data"]["platform"])
