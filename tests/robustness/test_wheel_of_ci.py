"""CI's look at the wheel: a file of the product that was not packed is named."""

from __future__ import annotations

import tomllib

from tests.robustness.ci_scripts import FOLDER, script


def test_files_that_were_not_packed_are_named() -> None:
    there = ["tui/app.py", "tui/app.tcss", "configs/x.toml"]
    packed = ["tui/app.py", "configs/x.toml", "moundfeed-0.1.0.dist-info/METADATA"]
    assert script("wheel").left_out(there, packed) == ["tui/app.tcss"]
    assert script("wheel").left_out(there, [*packed, "tui/app.tcss"]) == []


def test_its_rooms_are_those_that_are_installed() -> None:
    project = tomllib.loads((FOLDER.parent / "pyproject.toml").read_text("utf-8"))
    found = project["tool"]["setuptools"]["packages"]["find"]["include"]
    assert {f"{room}*" for room in script("wheel").ROOMS} == set(found)


def test_ci_runs_it() -> None:
    assert ".ci/wheel" in (FOLDER / "run").read_text()
