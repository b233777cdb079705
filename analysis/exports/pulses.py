"""The pulse that a motion capture recorded, from its CSV or C3D file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analysis.exports.errors import ExportError
from analysis.imports.axes import Array
from analysis.imports.c3d_file import read_c3d
from analysis.imports.csv_file import CsvForm, read_columns
from analysis.imports.errors import ImportRefusedError


def read_pulse(path: Path, column: str, time: str) -> tuple[Array, Array]:
    """Return times (n,) s and the pulse (n,); raise :class:`ExportError`."""
    try:
        if path.suffix.lower() == ".c3d":
            content = read_c3d(path)
            if column not in content.labels:
                raise ExportError(f"{path.name} has no analog channel {column!r}")
            pulse = content.analogs[:, content.labels.index(column)]
            return np.arange(len(pulse)) / content.rate_hz, pulse
        values = read_columns(path, CsvForm(), [time, column])
    except ImportRefusedError as error:
        raise ExportError(str(error)) from None
    whole = values[np.isfinite(values).all(axis=1)]
    return whole[:, 0], whole[:, 1]
