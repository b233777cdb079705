"""The rooms' boundaries, as written down in pyproject.toml, hold."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_dependencies_point_one_way_and_the_core_has_no_io() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout


def test_every_flat_module_of_the_stream_is_held_to_the_core_rule() -> None:
    import tomllib

    rules = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    core = next(c for c in rules["contracts"] if c["id"] == "core")["source_modules"]
    flat = {f"stream.{p.stem}" for p in (ROOT / "stream").glob("*.py")} - {"stream.__init__"}
    # files.py reads layouts, settings and rosters from disk: a shell.
    assert flat - {"stream.files"} == set(core) - {"stream.checks", "stream.metrics"}
