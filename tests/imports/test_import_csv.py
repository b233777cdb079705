"""CSV files through a mapping: units, axes, sense, rate and gaps, held against statics and pint."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pint
import pytest

from analysis.imports.mapping import FORCE_UNITS, LENGTH_UNITS, MOMENT_UNITS, load_mapping
from stream.files import load_layout
from stream.recording.reader import read_recording
from stream.wire import decode_force
from tests.exports.sessions import simulated
from tui.commands.main import main

CORNERS = "[[0.6, 0.4, 0.0], [-0.2, 0.4, 0.0], [-0.2, -0.4, 0.0], [0.6, -0.4, 0.0]]"
CENTRE = np.array([0.2, 0.0, 0.0])
#: An invented foot's force (N, reaction) and its place (m), mound frame.
FORCE = np.column_stack(
    [
        np.linspace(-200, 300, 50),
        np.linspace(20, -50, 50),
        800 + 300 * np.sin(np.linspace(0, 6, 50)),
    ]
)
PLACE = np.column_stack([np.linspace(0, 0.5, 50), np.linspace(0.1, -0.3, 50), np.zeros(50)])
MOMENT = np.cross(PLACE - CENTRE, FORCE)


def written(
    path: Path,
    columns: dict[str, np.ndarray],
    *,
    delimiter: str = ",",
    decimal: str = ".",
    above: Sequence[str] = (),
    units: str | None = None,
) -> Path:
    rows = np.column_stack(list(columns.values()))
    lines = [*above, delimiter.join(columns)] + ([units] if units is not None else [])
    for row in rows:
        cells = ["" if np.isnan(v) else f"{v:.9g}".replace(".", decimal) for v in row]
        lines.append(delimiter.join(cells))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def imported(path: Path, mapping: str | None, *options: str) -> dict[str, np.ndarray]:
    out, layout, traces = (path.with_suffix(s) for s in (".mcap", ".layout", ".traces"))
    words = ["import", str(path), "-o", str(out), "--layout-out", str(layout), *options]
    if mapping is not None:
        path.with_suffix(".toml").write_text(mapping)
        words += ["--mapping", str(path.with_suffix(".toml"))]
    assert main(words) == 0
    words = ["export", str(out), "--layout", str(layout), "--to", "traces", "-o", str(traces)]
    assert main(words) == 0
    table = np.genfromtxt(traces, delimiter=",", names=True)
    return {name: table[name] for name in table.dtype.names or ()}


def same(found: dict[str, np.ndarray], sign: float = 1.0) -> None:
    for k, axis in enumerate("xyz"):
        np.testing.assert_allclose(found[f"p_f{axis}_n"], sign * FORCE[:, k], atol=2e-3)
    np.testing.assert_allclose(found["p_copx_m"], PLACE[:, 0], atol=1e-5)
    np.testing.assert_allclose(found["p_copy_m"], PLACE[:, 1], atol=1e-5)


def columns(force: np.ndarray, moment: np.ndarray) -> dict[str, np.ndarray]:
    return {
        f"{name}{axis}": values[:, k]
        for name, values in (("F", force), ("M", moment))
        for k, axis in enumerate("xyz")
    }


MAP = f"""
rate_hz = 1000.0
[[platform]]
name = "p"
force = ["Fx", "Fy", "Fz"]
moment = ["Mx", "My", "Mz"]
corners_m = {CORNERS}
"""


def test_plain_columns(tmp_path: Path) -> None:
    path = written(tmp_path / "lab.csv", columns(FORCE, MOMENT))
    same(imported(path, MAP))
    message = decode_force(next(read_recording(path.with_suffix(".mcap")).packets()).payload)
    assert message.rate_hz == 1000.0
    wanted = np.hstack([FORCE, MOMENT])[: len(message.samples)]
    np.testing.assert_allclose(message.samples, wanted, rtol=2e-7)


def test_units_semicolons_decimal_commas_and_a_line_of_units(tmp_path: Path) -> None:
    path = written(
        tmp_path / "lab.csv",
        {"Zeit": np.arange(50) * 5.0, **columns(FORCE / 1000.0, MOMENT * 1000.0)},
        delimiter=";",
        decimal=",",
        above=["made by nobody", ""],
        units="ms;kN;kN;kN;Nmm;Nmm;Nmm",
    )
    mapping = f"""
time = "Zeit"
time_unit = "ms"
delimiter = ";"
decimal = ","
header_line = 3
first_line = 5
[[platform]]
name = "p"
force = ["Fx", "Fy", "Fz"]
force_unit = "kN"
moment = ["Mx", "My", "Mz"]
moment_unit = "N mm"
corners_m = {CORNERS}
"""
    found = imported(path, mapping)
    same(found)
    np.testing.assert_allclose(found["t_s"], np.arange(50) * 0.005, atol=1e-6)


def test_factors_are_pints() -> None:
    """Units against pint (NIST values)."""
    ureg: pint.UnitRegistry[float] = pint.UnitRegistry()
    force = {"N": "N", "kN": "kN", "lbf": "lbf"}
    for unit, name in force.items():
        assert FORCE_UNITS[unit] == pytest.approx(ureg(name).to("N").magnitude, rel=1e-12)
    moment = {"N m": "N*m", "N mm": "N*mm", "kN m": "kN*m", "lbf ft": "lbf*ft", "lbf in": "lbf*in"}
    for unit, name in moment.items():
        assert MOMENT_UNITS[unit] == pytest.approx(ureg(name).to("N*m").magnitude, rel=1e-12)
    for unit, factor in LENGTH_UNITS.items():
        assert factor == pytest.approx(ureg(unit if unit != "in" else "inch").to("m").magnitude)


@pytest.mark.parametrize(
    "axes",
    [["x", "-y", "-z"], ["y", "-x", "z"], ["-x", "-y", "z"], ["x", "z", "-y"]],
)
def test_axes(tmp_path: Path, axes: list[str]) -> None:
    """The file's x, y, z are the platform's ``axes``; its components are the projections."""
    named = {"x": 0, "y": 1, "z": 2}
    turn = np.zeros((3, 3))
    for k, axis in enumerate(axes):
        turn[k, named[axis[-1]]] = -1.0 if axis[0] == "-" else 1.0
    path = written(tmp_path / "lab.csv", columns(FORCE @ turn.T, MOMENT @ turn.T))
    same(imported(path, MAP + f"axes = {json.dumps(axes)}\n"))


def test_action_is_turned(tmp_path: Path) -> None:
    path = written(tmp_path / "lab.csv", columns(-FORCE, -MOMENT))
    same(imported(path, MAP + 'sense = "action"\n'))


@pytest.mark.parametrize("axes", [["x", "y", "z"], ["x", "-y", "-z"]])
def test_places_of_the_force_instead_of_moments(tmp_path: Path, axes: list[str]) -> None:
    turn = np.diag([1.0, 1, 1]) if axes[1] == "y" else np.diag([1.0, -1, -1])
    place = (PLACE - CENTRE) @ turn * 1000.0
    data = columns(FORCE @ turn, MOMENT)
    data = {k: v for k, v in data.items() if k[0] == "F"} | {"ax": place[:, 0], "ay": place[:, 1]}
    path = written(tmp_path / "lab.csv", data)
    mapping = MAP.replace('moment = ["Mx", "My", "Mz"]', 'pressure = ["ax", "ay"]')
    found = imported(path, mapping + f'length_unit = "mm"\naxes = {json.dumps(axes)}\n')
    same(found)


def test_rows_and_cells_that_lack_are_gaps(tmp_path: Path) -> None:
    data = {"t": np.arange(50) / 200.0, **columns(FORCE, MOMENT)}
    data["Fx"] = data["Fx"].copy()
    data["Fx"][7] = np.nan
    kept = np.delete(np.arange(50), [20, 21, 22])
    path = written(tmp_path / "lab.csv", {k: v[kept] for k, v in data.items()})
    found = imported(path, MAP.replace("rate_hz = 1000.0", 'time = "t"'))
    np.testing.assert_array_equal(found["frame"], np.arange(50))
    assert np.flatnonzero(np.isnan(found["p_fx_n"])).tolist() == [7, 20, 21, 22]
    assert np.isnan(found["p_fz_n"][7])


def test_a_mapping_beside_the_file_and_a_pulse(tmp_path: Path) -> None:
    pulse = np.where(np.arange(50) > 30, 5.0, 0.0)
    path = written(tmp_path / "lab.csv", columns(FORCE, MOMENT) | {"TTL": pulse})
    (tmp_path / "lab.map.toml").write_text(MAP + '[spare]\nsync = "TTL"\n')
    same(imported(path, None))
    layout = load_layout(str(path.with_suffix(".layout")))
    assert layout.spare == {"sync": 6}


def test_traces_come_back_the_same(tmp_path: Path) -> None:
    """Our own traces as a foreign file: replay then finds the same pitches as in the original."""
    recording = simulated(tmp_path, pitches=2)
    traces = tmp_path / "traces.csv"
    assert main(["export", str(recording), "--to", "traces", "-o", str(traces)]) == 0
    out, layout = tmp_path / "back.mcap", tmp_path / "back.toml"
    assert main(["import", str(traces), "-o", str(out), "--layout-out", str(layout)]) == 0
    again = tmp_path / "again.csv"
    words = ["export", str(out), "--layout", str(layout), "--to", "traces", "-o", str(again)]
    assert main(words) == 0
    a, b = (np.genfromtxt(p, delimiter=",", skip_header=1) for p in (traces, again))
    np.testing.assert_allclose(a, b, atol=2e-3)
    records = []
    for path in (recording, out):
        lines = path.with_suffix(".jsonl")
        assert main(["replay", str(path), "--jsonl", str(lines)]) == 0
        found = [json.loads(line) for line in lines.read_text().splitlines()]
        records.append([r for r in found if "number" in r])
    assert len(records[0]) == len(records[1]) == 2
    for ours, back in zip(*records, strict=True):
        assert back["foot_contact_frame"] == pytest.approx(ours["foot_contact_frame"], abs=1e-3)
        for key in ("drive_peak_n", "landing_peak_n"):
            assert back["metrics"][key] == pytest.approx(ours["metrics"][key], rel=1e-5)


@pytest.mark.parametrize(
    ("text", "mapping", "sentence"),
    [
        ("", MAP, "no line 1"),
        ("Fx,Fy\n1,2\n", MAP, "no column 'Fz'"),
        ("Fx,Fy,Fz,Mx,My,Mz\n", MAP, "no rows"),
        ("Fx,Fy,Fz,Mx,My,Mz\n1,2,3,4,5,6\n1,2,abc,4,5,6\n", MAP, "line 3: 'abc' in column 'Fz'"),
        ("Fx,Fy,Fz,Mx,My,Mz\n1,2,3,4,5,6\n1,2,3\n", MAP, "line 3, has 3 cells"),
        ("Fx,Fy,Fz,Mx,My,Mz\n1,2,inf,4,5,6\n", MAP, "'inf'"),
        ("Fx,Fx,Fz,Mx,My,Mz\n1,2,3,4,5,6\n", MAP, "two columns"),
        ("Fx,Fy,Fz,Mx,My,Mz\n1,2,3e9,4,5,6\n", MAP, "check the units"),
        ("\x00\x01PK\x03", MAP, "lab.csv"),
        ("a,b\n1,2\n", None, "--mapping"),
        ("Fx\n1\n", MAP.replace("1000.0", "5000.0"), "no column"),
        ("Fx,Fy,Fz,Mx,My,Mz\n1,2,3,4,5,6\n", MAP.replace("1000.0", "5000.0"), "5000 Hz"),
        ("Fx\n1\n", MAP.replace("rate_hz = 1000.0", ""), "rate_hz"),
        ("Fx\n1\n", MAP + "colour = 3\n", "colour"),
        ("Fx\n1\n", MAP + 'force_unit = "pound"\n', "pound"),
        ("Fx\n1\n", "[[platform]\n", "not TOML"),
        (
            "Fx,Fy,Fz,Mx,My,Mz\n1,2,3,4,5,6\n",
            MAP + 'axes = ["x", "y", "-z"]\n',
            "left-handed",
        ),
        (
            "t,Fx,Fy,Fz,Mx,My,Mz\n0,1,2,3,4,5,6\n0.01,1,2,3,4,5,6\n0.01,1,2,3,4,5,6\n",
            MAP.replace("rate_hz = 1000.0", 'time = "t"'),
            "do not increase",
        ),
        (
            "t,Fx,Fy,Fz,Mx,My,Mz\n0,1,2,3,4,5,6\n0.01,1,2,3,4,5,6\n0.02,1,2,3,4,5,6\n"
            "0.035,1,2,3,4,5,6\n",
            MAP.replace("rate_hz = 1000.0", 'time = "t"'),
            "evenly",
        ),
        *(
            (
                f"f,Fx,Fy,Fz,Mx,My,Mz\n{first},1,2,3,4,5,6\n1,1,2,3,4,5,6\n",
                'frame = "f"\n' + MAP,
                "check the column of frames",
            )
            for first in ("1e20", "9007199254740993")
        ),
    ],
)
def test_bad_files_are_one_line_and_code_2(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    text: str,
    mapping: str | None,
    sentence: str,
) -> None:
    path = tmp_path / "lab.csv"
    path.write_text(text)
    words = ["import", str(path), "-o", str(tmp_path / "o.mcap")]
    words += ["--layout-out", str(tmp_path / "o.toml")]
    if mapping is not None:
        (tmp_path / "map.toml").write_text(mapping)
        words += ["--mapping", str(tmp_path / "map.toml")]
    assert main(words) == 2
    said = capsys.readouterr()
    assert sentence in said.err
    assert said.err.count("\n") == 1
    assert not (tmp_path / "o.mcap").exists()
    assert not (tmp_path / "o.toml").exists()
    assert not list(tmp_path.glob(".draft*"))


@pytest.mark.parametrize(
    "name", ["plate \U0001f600", "plate\x7f", "a\nname = 'b'", "a\r\n[deck]", 'a"\\b\tc']
)
def test_any_name_of_a_platform_stays_what_it_is(tmp_path: Path, name: str) -> None:
    path, out, layout = (tmp_path / f"lab.{end}" for end in ("csv", "mcap", "layout"))
    path.write_text("Fx,Fy,Fz,Mx,My,Mz\n1,2,3,4,5,6\n")
    escaped = "".join(f"\\U{ord(character):08x}" for character in name)
    # Without moments there is a note with the name in it.
    mapping = MAP.replace('name = "p"', f'name = "{escaped}"').replace("moment =", "# moment =")
    path.with_suffix(".toml").write_text(mapping)
    words = ["import", str(path), "-o", str(out), "--layout-out", str(layout)]
    assert main([*words, "--mapping", str(path.with_suffix(".toml"))]) == 0
    assert layout.read_text("utf-8").startswith("# ")
    assert [p.name for p in load_layout(str(layout)).platforms] == [name]


def test_other_endings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lab.xlsx"
    path.write_bytes(b"PK")
    out, layout = str(tmp_path / "o.mcap"), str(tmp_path / "o.toml")
    assert main(["import", str(path), "-o", out, "--layout-out", layout]) == 2
    assert ".csv or .c3d" in capsys.readouterr().err
    assert main(["import", str(tmp_path / "no.csv"), "-o", out, "--layout-out", layout]) == 2
    assert "there is no file" in capsys.readouterr().err


def test_the_example_of_the_documentation_is_a_mapping(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "exports.md").read_text("utf-8")
    path = tmp_path / "map.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0])
    mapping = load_mapping(path)
    assert [p.name for p in mapping.platform] == ["rear", "front"]
    assert mapping.delimiter == ";"
