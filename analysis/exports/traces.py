"""Each platform's force and centre of pressure, frame by frame, as CSV.

Columns ``frame``, ``t_s``, then for each platform ``<name>_fx_n``, ``_fy_n``, ``_fz_n`` (mound
frame, reaction on the pitcher) and ``_copx_m``, ``_copy_m``. Not filtered; no zero is taken off
unless one is given. An empty cell: the frame never came, or the platform bears too little for a
centre of pressure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from analysis.exports.cells import safe_text
from analysis.exports.frames import Array, Block, FrameReader
from stream.forces import centre_of_pressure, platform_forces
from stream.layout import Layout

#: A platform that bears less has no centre of pressure, N.
LEAST_LOAD_N = 20.0
_PARTS = ("fx_n", "fy_n", "fz_n", "copx_m", "copy_m")


def trace_columns(layout: Layout) -> list[str]:
    """Return the columns' names."""
    return ["frame", "t_s", *(f"{p.name}_{part}" for p in layout.platforms for part in _PARTS)]


def trace_values(layout: Layout, samples: Array, tare: Array | None = None) -> Array:
    """Return the platforms' columns (n, 5 a platform) for raw ``samples`` (n, channels)."""
    forces = platform_forces(layout, samples, tare)
    places = centre_of_pressure(layout, forces, LEAST_LOAD_N)
    return np.concatenate([forces.force, places], axis=2).reshape(len(samples), -1)


def write_traces(
    path: Path,
    reader: FrameReader,
    tare: Sequence[float] | None = None,
    progress: Callable[[int], None] = lambda offset: None,
) -> int:
    """Write the traces of ``reader`` to ``path`` and return the number of rows."""
    zero = None if tare is None else np.asarray(tare, dtype=float)
    rows = 0
    names = trace_columns(reader.layout)
    line = ",".join(["%d", "%.6f", *["%.9g"] * (len(names) - 2)]) + "\n"
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(",".join(safe_text(name) for name in names) + "\n")
        for block in reader.blocks():
            file.write(_lines(block, trace_values(reader.layout, block.samples, zero), line))
            rows += len(block.samples)
            progress(reader.recording.report.offset)
    return rows


def _lines(block: Block, values: Array, line: str) -> str:
    first, t_s, rate = block.first_frame, block.t_s, block.rate_hz
    text = "".join(
        line % (first + i, t_s + i / rate, *row) for i, row in enumerate(values.tolist())
    )
    return text.replace("nan", "")
