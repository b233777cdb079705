"""C3D files through import and traces: the same forces and places as the C3D library finds.

The outside computation is ezc3d's force platform extraction. It was made for TYPE 1 to 4 by the
C3D user guide ("The FORCE_PLATFORM group"). Tolerances are float32's.
"""

from __future__ import annotations

import json
import stat
import struct
import tomllib
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from stream.files import load_layout
from stream.forces import centre_of_pressure, platform_forces
from stream.recording.reader import read_recording
from stream.wire import decode_force
from tests.imports.c3d_files import FRONT, REAR, Made, channels_of, library_platforms, write_c3d
from tui.commands.main import main

FORCE_N, PLACE_M = 5e-3, 5e-6


def imported(path: Path, *options: str) -> dict[str, np.ndarray]:
    """Import ``path``, export its traces, and return them by column."""
    out, layout, traces = (path.with_suffix(s) for s in (".mcap", ".toml", ".csv"))
    assert main(["import", str(path), "-o", str(out), "--layout-out", str(layout), *options]) == 0
    words = ["export", str(out), "--layout", str(layout), "--to", "traces", "-o", str(traces)]
    assert main(words) == 0
    table = np.genfromtxt(traces, delimiter=",", names=True)
    return {name: table[name] for name in table.dtype.names or ()}


def force(traces: dict[str, np.ndarray], name: str) -> np.ndarray:
    return np.stack([traces[f"{name}_f{a}_n"] for a in "xyz"])


def place(traces: dict[str, np.ndarray], name: str) -> np.ndarray:
    return np.stack([traces[f"{name}_cop{a}_m"] for a in "xy"])


@pytest.mark.parametrize("kinds", [(1, 1), (2, 2), (3, 3), (4, 4), (1, 3), (4, 2)])
def test_forces_and_places_are_the_librarys(tmp_path: Path, kinds: tuple[int, int]) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=kinds))
    traces = imported(path)
    for k, library in enumerate(library_platforms(path)):
        np.testing.assert_allclose(force(traces, f"plate{k + 1}"), library["force"], atol=FORCE_N)
        theirs = library["center_of_pressure"][:2] / 1000.0
        np.testing.assert_allclose(place(traces, f"plate{k + 1}"), theirs, atol=PLACE_M)
    np.testing.assert_array_equal(traces["frame"], np.arange(400))
    np.testing.assert_allclose(traces["t_s"], np.arange(400) / 1000.0, atol=1e-6)
    assert traces["plate1_fz_n"].mean() > 500


def test_the_feed_is_unchanged(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=(2, 4)))
    imported(path)
    packets = list(read_recording(path.with_suffix(".mcap")).packets())
    samples = np.concatenate([decode_force(p.payload).samples for p in packets])
    written = np.concatenate([channels_of(2, 400, 10), channels_of(4, 400, 11)])
    # N mm become N m, by which alone moments of a long deck fit into a feed.
    written[3:6] /= 1000.0
    np.testing.assert_allclose(samples.T, written, rtol=3e-7, atol=1e-6)
    for message in (decode_force(p.payload) for p in packets):
        assert message.rate_hz == 1000.0
        assert message.t_ns == message.first_frame * 1_000_000


@pytest.mark.parametrize("kind", [1, 2, 3, 4])
def test_free_moments_are_the_librarys(tmp_path: Path, kind: int) -> None:
    """Tz: the moment about the vertical through the centre of pressure, N mm."""
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=(kind,), corners=(REAR,)))
    out, text = tmp_path / "a.mcap", tmp_path / "a.toml"
    assert main(["import", str(path), "-o", str(out), "--layout-out", str(text)]) == 0
    layout = load_layout(str(text))
    packets = list(read_recording(out).packets())
    samples = np.concatenate([decode_force(p.payload).samples for p in packets])
    forces = platform_forces(layout, samples)
    arm = centre_of_pressure(layout, forces)[:, 0] - layout.platforms[0].centre[:2]
    fx, fy, _ = forces.force[:, 0].T
    free = forces.moment[:, 0, 2] - (arm[:, 0] * fy - arm[:, 1] * fx)
    theirs = library_platforms(path)[0]["Tz"][2] / 1000.0
    np.testing.assert_allclose(free, theirs, atol=1e-3)
    assert np.abs(theirs).max() > 1.0


def test_layout_carries_the_files_own_platforms(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=(2, 4)))
    imported(path)
    layout = load_layout(str(path.with_suffix(".toml")))
    assert [p.name for p in layout.platforms] == ["plate1", "plate2"]
    for platform, corners in zip(layout.platforms, (REAR, FRONT), strict=True):
        wanted = {tuple(np.round(c / 1000.0, 6)) for c in corners}
        assert {tuple(np.round(c, 6)) for c in platform.corners} == wanted
        assert platform.axes[2, 2] == pytest.approx(1.0)
        np.testing.assert_allclose(platform.origin, [0, 0, -0.04], atol=1e-7)
    assert layout.split_x == pytest.approx(0.6)
    assert read_recording(path.with_suffix(".mcap")).metadata["layout"]["toml"] == (
        path.with_suffix(".toml").read_text()
    )


def parameter_at(data: bytearray, group: bytes, name: bytes) -> int:
    """Return where a parameter's values begin: user guide, "The parameter section"."""
    at = data.index(group, 512)
    # A locked parameter's name has a negative length.
    keys = [bytes([n % 256, 256 - data[at - 1]]) + name for n in (len(name), -len(name))]
    at = max(data.find(key, 512) for key in keys) + 2 + len(name)
    return at + 2 + 2 + data[at + 3]


def test_a_file_of_integers(tmp_path: Path) -> None:
    """Integer files (positive scale in the header) hold counts times ANALOG:SCALE."""
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=(2, 4)))
    data = bytearray(path.read_bytes())
    values = np.asarray(ezc3d.c3d(str(path))["data"]["analogs"])[0]
    scale = (np.abs(values).max(axis=1) / 32000.0).astype(np.float32)
    at = parameter_at(data, b"ANALOG", b"SCALE")
    data[at : at + 48] = scale.tobytes()
    struct.pack_into("<f", data, parameter_at(data, b"POINT", b"SCALE"), 1.0)
    struct.pack_into("<f", data, 12, 1.0)
    (start,) = struct.unpack_from("<H", data, 16)
    counts = np.rint(values / scale[:, None]).astype("<i2")
    path.write_bytes(data[: (start - 1) * 512] + counts.T.tobytes())
    traces = imported(path)
    for k, library in enumerate(library_platforms(path)):
        np.testing.assert_allclose(force(traces, f"plate{k + 1}"), library["force"], atol=FORCE_N)
        assert 500 < library["force"][2].mean() < 1500
        theirs = library["center_of_pressure"][:2] / 1000.0
        np.testing.assert_allclose(place(traces, f"plate{k + 1}"), theirs, atol=PLACE_M)


def test_markers_in_the_file_do_not_disturb(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    plain = imported(path)
    file = ezc3d.c3d(str(path))
    file["parameters"]["POINT"]["LABELS"]["value"] = ["a", "b", "c"]
    file["data"]["points"] = np.ones((4, 3, 100))
    (tmp_path / "with").mkdir()
    file.write(str(tmp_path / "with" / "lab.c3d"))
    traces = imported(tmp_path / "with" / "lab.c3d")
    for name in plain:
        np.testing.assert_allclose(traces[name], plain[name], atol=1e-6)


def test_action_is_seen_and_turned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(sign=-1.0))
    traces = imported(path)
    assert "action on the platform" in capsys.readouterr().out
    for k, library in enumerate(library_platforms(path)):
        np.testing.assert_allclose(force(traces, f"plate{k + 1}"), -library["force"], atol=FORCE_N)
        theirs = library["center_of_pressure"][:2] / 1000.0
        np.testing.assert_allclose(place(traces, f"plate{k + 1}"), theirs, atol=PLACE_M)
    other = write_c3d(tmp_path / "stated.c3d", Made(sign=-1.0))
    stated = imported(other, "--sense", "reaction")
    np.testing.assert_allclose(force(stated, "plate1"), -force(traces, "plate1"), atol=FORCE_N)


def test_a_laboratory_with_y_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Laboratory x = our x, laboratory y = our z, laboratory z = -our y.
    turn = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
    path = write_c3d(tmp_path / "lab.c3d", Made(turn=turn))
    traces = imported(path)
    assert "+y is up" in capsys.readouterr().out
    for k, library in enumerate(library_platforms(path)):
        np.testing.assert_allclose(
            force(traces, f"plate{k + 1}"), turn.T @ library["force"], atol=FORCE_N
        )
        theirs = (turn.T @ library["center_of_pressure"])[:2] / 1000.0
        np.testing.assert_allclose(place(traces, f"plate{k + 1}"), theirs, atol=PLACE_M)


def test_forward_and_rubber_are_stated(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    traces = imported(path, "--forward=-x", "--rubber", "1.22,0.1,0")
    library = library_platforms(path)[0]
    np.testing.assert_allclose(
        force(traces, "plate1"), np.diag([-1, -1, 1]) @ library["force"], atol=FORCE_N
    )
    theirs = library["center_of_pressure"] / 1000.0
    np.testing.assert_allclose(
        place(traces, "plate1"), [1.22 - theirs[0], 0.1 - theirs[1]], atol=PLACE_M
    )


@pytest.mark.parametrize(("unit", "scale"), [("mm", 1.0), ("m", 0.001), ("cm", 0.1), ("", 1.0)])
def test_units_of_length(tmp_path: Path, unit: str, scale: float) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(kinds=(1, 2), length_unit=unit, scale=scale))
    traces = imported(path)
    plain = imported(write_c3d(tmp_path / "plain.c3d", Made(kinds=(1, 2))))
    for name in plain:
        np.testing.assert_allclose(traces[name], plain[name], atol=2e-3, rtol=1e-5, err_msg=name)


def test_moments_in_newton_metres(tmp_path: Path) -> None:
    moments_in_m = ["N"] * 3 + ["Nm"] * 3
    made = Made(kinds=(2,), corners=(REAR,), units=moments_in_m)
    path = write_c3d(tmp_path / "lab.c3d", made)
    plain = imported(write_c3d(tmp_path / "plain.c3d", Made(kinds=(2,), corners=(REAR,))))
    # The library does not convert; what it wrote in N mm is called N m here, so the load would
    # lie a thousand times too far off: the label is not believed, and that is told.
    traces = imported(path)
    np.testing.assert_allclose(place(traces, "plate1"), place(plain, "plate1"), atol=PLACE_M)
    file = ezc3d.c3d(str(path))
    file["data"]["analogs"][0, 3:6] /= 1000.0
    file.write(str(tmp_path / "metres.c3d"))
    traces = imported(tmp_path / "metres.c3d")
    np.testing.assert_allclose(place(traces, "plate1"), place(plain, "plate1"), atol=PLACE_M)


@pytest.mark.parametrize("z", [-40.0, 40.0])
def test_sensor_is_below_the_surface_however_it_is_written(tmp_path: Path, z: float) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(origin_z=z))
    traces = imported(path)
    theirs = library_platforms(path)[0]["center_of_pressure"][:2] / 1000.0
    np.testing.assert_allclose(place(traces, "plate1"), theirs, atol=PLACE_M)


def test_too_little_load_has_no_place(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    file = ezc3d.c3d(str(path))
    file["data"]["analogs"][0, :6, 100:200] = 0.0
    file.write(str(path))
    traces = imported(path)
    assert np.isnan(place(traces, "plate1")[:, 100:200]).all()
    assert np.isfinite(place(traces, "plate1")[:, :100]).all()
    assert (force(traces, "plate1")[:, 100:200] == 0).all()


def test_missing_samples_are_a_gap(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    file = ezc3d.c3d(str(path))
    file["data"]["analogs"][0, 3, 50:60] = np.nan
    file.write(str(path))
    traces = imported(path)
    assert np.isnan(force(traces, "plate1")[:, 50:60]).all()
    assert np.isnan(force(traces, "plate2")[:, 50:60]).all()
    np.testing.assert_array_equal(traces["frame"], np.arange(400))
    assert np.isfinite(force(traces, "plate1")[:, 60:]).all()


def test_a_pulse_channel_is_kept(tmp_path: Path) -> None:
    pulse = np.where((np.arange(400) > 100) & (np.arange(400) < 150), 5.0, 0.0)
    path = write_c3d(tmp_path / "lab.c3d", Made(extra=[("Sync", pulse)]))
    imported(path, "--sync", "Sync")
    layout = tomllib.loads(path.with_suffix(".toml").read_text())
    assert layout["spare"] == {"sync": 12}
    packets = read_recording(path.with_suffix(".mcap")).packets()
    samples = np.concatenate([decode_force(p.payload).samples for p in packets])
    np.testing.assert_allclose(samples[:, 12], pulse, atol=1e-5)


def test_files_are_their_owners_alone(tmp_path: Path) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    imported(path)
    for suffix in (".mcap", ".toml", ".csv"):
        assert stat.S_IMODE(path.with_suffix(suffix).stat().st_mode) == 0o600


def refused(path: Path, capsys: pytest.CaptureFixture[str], *options: str) -> str:
    """Import what must be refused; return the one line said, and see that nothing is left."""
    before = set(path.parent.iterdir())
    out, layout = path.parent / "out.mcap", path.parent / "out.toml"
    words = ["import", str(path), "-o", str(out), "--layout-out", str(layout), *options]
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert set(path.parent.iterdir()) == before
    return said.err


def test_a_file_cut_off_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    whole = path.read_bytes()
    for share in (0.9, 0.5):
        path.write_bytes(whole[: int(len(whole) * share)])
        assert "cut off" in refused(path, capsys)
    path.write_bytes(whole[:700])
    refused(path, capsys)


@pytest.mark.parametrize("content", [b"", b"hello", bytes(4096), b"\x02\x50" + bytes(2000)])
def test_what_is_no_c3d_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes
) -> None:
    path = tmp_path / "lab.c3d"
    path.write_bytes(content)
    assert "lab.c3d" in refused(path, capsys)


def test_a_damaged_file_never_ends_the_program(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(frames=40))
    whole = bytearray(path.read_bytes())
    rng = np.random.default_rng(3)
    for _ in range(6):
        broken = whole.copy()
        for at in rng.integers(512, 2000, 60):
            broken[at] = rng.integers(256)
        path.write_bytes(broken)
        out, layout = tmp_path / "out.mcap", tmp_path / "out.toml"
        code = main(["import", str(path), "-o", str(out), "--layout-out", str(layout)])
        assert code in (0, 2)
        assert capsys.readouterr().err.count("\n") == (0 if code == 0 else 1)
        out.unlink(missing_ok=True)
        layout.unlink(missing_ok=True)


def test_a_file_that_breaks_the_library_down(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The library ends with a memory fault on a file whose ANALOG:SCALE is empty."""
    path = write_c3d(tmp_path / "lab.c3d", Made())
    data = bytearray(path.read_bytes())
    at = data.index(b"_SCALE", data.index(b"ANALOG")) + 2
    at = data.index(b"SCALE", at)
    # Parameter: name, offset to the next (2 bytes), type, number of dimensions, dimensions.
    assert struct.unpack_from("<bB", data, at + 7) == (4, 1)
    (start,) = struct.unpack_from("<H", data, 16)
    (next_at,) = struct.unpack_from("<H", data, at + 5)
    data[at + 9] = 0
    struct.pack_into("<H", data, at + 5, next_at - 48)
    del data[at + 10 : at + 10 + 48]
    # The data section stays where the header says it is.
    data[(start - 1) * 512 - 48 : (start - 1) * 512 - 48] = bytes(48)
    path.write_bytes(data)
    assert "broke down" in refused(path, capsys)


@pytest.mark.parametrize("rate", [50.0, 4000.0])
def test_rates_that_are_not_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rate: float
) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made(rate_hz=rate))
    assert f"{rate:g} Hz" in refused(path, capsys)


@pytest.mark.parametrize("kind", [5, 6, 7])
def test_other_types_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: int
) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    file = ezc3d.c3d(str(path))
    file["parameters"]["FORCE_PLATFORM"]["TYPE"]["value"] = [2, kind]
    file.write(str(path))
    assert f"TYPE {kind}" in refused(path, capsys)


def test_a_platform_on_edge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    assert "stands on edge" in refused(path, capsys, "--up", "x", "--forward", "y")
    assert "the same axis" in refused(path, capsys, "--up", "x", "--forward=-x")
    assert "not 'up'" in refused(path, capsys, "--up", "up")
    assert "'parsec'" in refused(path, capsys, "--length-unit", "parsec")
    assert "'parsec'" in refused(path, capsys, "--moment-unit", "parsec")
    assert "600 m long" in refused(path, capsys, "--length-unit", "m")
    assert "no analog channel" in refused(path, capsys, "--sync", "TTL")


def test_no_platform_at_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    file = ezc3d.c3d(str(path))
    file["parameters"]["FORCE_PLATFORM"]["USED"]["value"] = [0]
    file.write(str(path))
    assert "no force platform" in refused(path, capsys)


def test_a_recording_is_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_c3d(tmp_path / "lab.c3d", Made())
    out = tmp_path / "there.mcap"
    out.write_bytes(b"kept")
    words = ["import", str(path), "-o", str(out), "--layout-out", str(tmp_path / "l.toml")]
    assert main(words) == 2
    assert "never overwritten" in capsys.readouterr().err
    assert out.read_bytes() == b"kept"


def test_imported_recording_goes_through_the_core(tmp_path: Path) -> None:
    """A second of standing: replay takes it at its own rate and finds no delivery in it."""
    path = write_c3d(tmp_path / "lab.c3d", Made(frames=2000, rate_hz=1000.0))
    imported(path)
    lines = tmp_path / "lines.jsonl"
    words = ["replay", str(path.with_suffix(".mcap")), "--jsonl", str(lines)]
    assert main([*words, "--layout", str(path.with_suffix(".toml"))]) == 0
    assert all("not_counted" in json.loads(line) for line in lines.read_text().splitlines())
