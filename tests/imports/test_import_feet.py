"""The boundary between the feet in a layout made of a foreign file's platforms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.imports.layout_text import layout_toml
from stream.files import load_layout, parse_layout


@pytest.mark.parametrize("name", ["two-plates", "tiled"])
def test_boundary_is_the_shipped_layouts(name: str) -> None:
    """Corners of a C3D file have the precision of float32: rows of tiles differ by nanometres."""
    shipped = load_layout(name)
    platforms = [
        replace(p, corners=p.corners.astype(np.float32).astype(float)) for p in shipped.platforms
    ]
    text = layout_toml(shipped.channels, platforms, {}, ())
    imported = parse_layout(text, name)
    assert imported.split_x == pytest.approx(shipped.split_x, abs=1e-6)
