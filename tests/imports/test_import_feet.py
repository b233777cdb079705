"""Tiles that went out as a file and came back: the boundary between the feet, and the estimates."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.imports.layout_text import layout_toml
from stream.files import load_layout, parse_layout
from tests.exports.sessions import session_of
from tui.commands.main import main


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


@pytest.mark.parametrize("kind", ["traces", "c3d"])
def test_pitches_of_tiles_come_back_with_their_estimates(
    tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """No pitch came back, and after that places without the mark of an estimate."""
    recording, out = tmp_path / "tiles.mcap", tmp_path / "out"
    words = ["--layout", "tiled", "--pitches", "1", "--pitchers", "1", "--no-traffic", "--quick"]
    assert main(["simulate", "--to", str(recording), *words]) == 0
    session = session_of(recording, tmp_path / "s")
    (first,) = pitches(session / "pitches.jsonl")
    what = session if kind == "c3d" else recording
    assert main(["export", str(what), "--to", kind, "-o", str(out)]) == 0
    file = out / "pitch-001.c3d" if kind == "c3d" else out.rename(tmp_path / "out.csv")
    back, layout, lines = (tmp_path / name for name in ("b.mcap", "b.toml", "b.jsonl"))
    capsys.readouterr()
    assert main(["import", str(file), "-o", str(back), "--layout-out", str(layout)]) == 0
    assert capsys.readouterr().out.count("50 platforms (") == 1
    assert main(["replay", str(back), "--jsonl", str(lines)]) == 0
    (again,) = pitches(lines)
    assert again["estimated"] == first["estimated"] != []
    for key in ("drive_peak_n", "landing_peak_n", "stride_m"):
        assert again["metrics"][key] == pytest.approx(first["metrics"][key], rel=1e-3)


def pitches(path: Path) -> list[dict[str, Any]]:
    return [r for r in map(json.loads, path.read_text().splitlines()) if "metrics" in r]
