"""Traces: each platform's force and place, checked against mechanics and the C3D library."""

from __future__ import annotations

import csv
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from stream.files import load_layout
from stream.layout import Layout
from stream.recording.plain import PlainWriter
from stream.recording.reader import read_recording
from stream.wire import ForceMessage, Packet, TopicKind, decode_force, encode_force, topic
from tui.commands.main import main

SOURCE, RATE = "mound-a", 200.0


def packet(first: int, samples: np.ndarray, stream: str = "s1", late_ns: int = 0) -> Packet:
    t_ns = round(first / RATE * 1e9)
    message = ForceMessage(SOURCE, stream, first, t_ns, RATE, samples.astype(np.float32))
    return Packet(topic(SOURCE, TopicKind.FORCE), encode_force(message), t_ns + 3_000_000 + late_ns)


def recorded(path: Path, packets: list[Packet], layout: str = "two-plates") -> Path:
    with PlainWriter(path, layout_text=load_layout(layout).origin_text) as writer:
        for one in packets:
            writer.write(one)
    return path


def traces(recording: Path, *options: str, layout: str = "two-plates") -> dict[str, np.ndarray]:
    out = recording.with_suffix(".csv")
    out.unlink(missing_ok=True)
    words = ["export", str(recording), "--layout", layout, "--to", "traces", "-o", str(out)]
    assert main([*words, *options]) == 0
    table = np.genfromtxt(out, delimiter=",", names=True)
    return {name: table[name] for name in table.dtype.names or ()}


def channels(layout: Layout, place: tuple[float, float], force: np.ndarray) -> np.ndarray:
    """Return raw channels of two-plates under a force (n, 3) N at one place, by statics."""
    raw = np.zeros((len(force), 12))
    for k, p in enumerate(layout.platforms):
        low, high = p.corners.min(axis=0), p.corners.max(axis=0)
        if not low[0] <= place[0] < high[0]:
            continue
        at = np.array([*place, float(layout.deck.height(place[0]))])
        moment = np.cross(at - p.corners.mean(axis=0), force)
        raw[:, 6 * k : 6 * k + 3] = force @ p.axes
        raw[:, 6 * k + 3 : 6 * k + 6] = moment @ p.axes
    return raw


def test_columns_are_in_order(tmp_path: Path) -> None:
    path = recorded(tmp_path / "a.mcap", [packet(0, np.ones((10, 12)))])
    traces(path)
    with path.with_suffix(".csv").open() as file:
        header = next(csv.reader(file))
    parts = ["fx_n", "fy_n", "fz_n", "copx_m", "copy_m"]
    assert header == ["frame", "t_s", *(f"{n}_{p}" for n in ("rear", "front") for p in parts)]


@pytest.mark.parametrize("place", [(-0.1, 0.2), (1.4, -0.3)])
def test_a_known_force_at_a_known_place(tmp_path: Path, place: tuple[float, float]) -> None:
    """Statics: M = r x F about each surface's centre, on the level and on the sloped part."""
    layout = load_layout("two-plates")
    force = np.outer(np.linspace(0.5, 2.5, 40), [-200.0, 30.0, 800.0])
    path = recorded(tmp_path / "a.mcap", [packet(0, channels(layout, place, force))])
    found = traces(path)
    name = "rear" if place[0] < 0.15 else "front"
    other = "front" if name == "rear" else "rear"
    for k, axis in enumerate("xyz"):
        np.testing.assert_allclose(found[f"{name}_f{axis}_n"], force[:, k], atol=1e-3)
        np.testing.assert_allclose(found[f"{other}_f{axis}_n"], 0.0, atol=1e-9)
    np.testing.assert_allclose(found[f"{name}_copx_m"], place[0], atol=1e-5)
    np.testing.assert_allclose(found[f"{name}_copy_m"], place[1], atol=1e-5)
    assert np.isnan(found[f"{other}_copx_m"]).all()


def test_same_as_the_c3d_library_on_a_simulated_session(recording: Path, tmp_path: Path) -> None:
    """ezc3d's force platforms (TYPE 2) from the very channels of the recording."""
    layout = load_layout("two-plates")
    raw = np.concatenate(
        [
            decode_force(p.payload).samples
            for p in read_recording(recording).packets()
            if p.topic.endswith("force")
        ]
    )[:8000].astype(float)
    raw[:, [3, 4, 5, 9, 10, 11]] *= 1000.0
    file = ezc3d.c3d()
    file["parameters"]["ANALOG"]["RATE"]["value"] = [RATE]
    file["parameters"]["POINT"]["RATE"]["value"] = [RATE]
    file["parameters"]["ANALOG"]["LABELS"]["value"] = [f"c{k}" for k in range(12)]
    file["data"]["points"] = np.zeros((4, 0, len(raw)))
    file["data"]["analogs"] = raw.T[None]
    corners = np.stack([1000.0 * p.corners.T for p in layout.platforms], axis=2)
    file.add_parameter("FORCE_PLATFORM", "CORNERS", corners)
    file.add_parameter("FORCE_PLATFORM", "ORIGIN", np.zeros((3, 2)))
    platform = file["parameters"]["FORCE_PLATFORM"]
    platform["USED"]["value"] = [2]
    platform["TYPE"]["value"] = [2, 2]
    platform["ZERO"]["value"] = [1, 0]
    platform["CHANNEL"]["value"] = np.arange(1, 13).reshape(2, 6).T
    file.write(str(tmp_path / "same.c3d"))
    library = ezc3d.c3d(str(tmp_path / "same.c3d"), extract_forceplat_data=True)["data"]["platform"]
    copy = tmp_path / "a.mcap"
    copy.write_bytes(recording.read_bytes())
    found = traces(copy)
    for name, theirs in zip(("rear", "front"), library, strict=True):
        ours = np.stack([found[f"{name}_f{a}_n"][:8000] for a in "xyz"])
        np.testing.assert_allclose(ours, theirs["force"], atol=2e-3)
        place = np.stack([found[f"{name}_cop{a}_m"][:8000] for a in "xy"])
        loaded = np.isfinite(place[0])
        assert loaded.any()
        np.testing.assert_allclose(
            place[:, loaded], theirs["center_of_pressure"][:2, loaded] / 1000.0, atol=2e-5
        )


def test_what_never_came_stays_empty(tmp_path: Path) -> None:
    samples = np.full((10, 12), 100.0)
    packets = [packet(0, samples), packet(10, samples), packet(35, samples), packet(45, samples)]
    path = recorded(tmp_path / "a.mcap", packets)
    found = traces(path)
    np.testing.assert_array_equal(found["frame"], np.arange(55))
    np.testing.assert_allclose(found["t_s"], np.arange(55) / RATE, atol=1e-9)
    for name, column in found.items():
        if name not in ("frame", "t_s"):
            assert np.isnan(column[20:35]).all(), name
    assert np.isfinite(found["rear_fx_n"][[19, 35]]).all()
    lines = path.with_suffix(".csv").read_text().splitlines()
    assert lines[1 + 20] == "20,0.100000" + "," * 10


def test_exchanged_and_repeated_blocks_are_healed(tmp_path: Path) -> None:
    blocks = [packet(10 * k, np.full((10, 12), float(k + 1))) for k in range(6)]
    order = [blocks[i] for i in (0, 2, 1, 1, 3, 4, 5)]
    found = traces(recorded(tmp_path / "a.mcap", order))
    np.testing.assert_array_equal(found["frame"], np.arange(60))
    np.testing.assert_allclose(found["rear_fx_n"], np.repeat(np.arange(1.0, 7.0), 10))


def test_a_restart_goes_on_in_time(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    samples = np.ones((10, 12))
    packets = [packet(0, samples), packet(0, samples, "s2", late_ns=2_000_000_000)]
    found = traces(recorded(tmp_path / "a.mcap", packets))
    assert "restarted" in capsys.readouterr().err
    np.testing.assert_array_equal(found["frame"], [*range(10), *range(10)])
    assert found["t_s"][10] == pytest.approx(2.0)


def test_tare_is_taken_only_when_asked(recording: Path, tmp_path: Path) -> None:
    copy = tmp_path / "a.mcap"
    copy.write_bytes(recording.read_bytes())
    raw, zeroed = traces(copy), traces(copy, "--tare")
    steps = [raw[f"rear_f{a}_n"] - zeroed[f"rear_f{a}_n"] for a in "xyz"]
    for step in steps:
        np.testing.assert_allclose(step, step[0], atol=1e-4)
    assert max(abs(step[0]) for step in steps) > 1.0
    # The invented session begins with an empty deck.
    assert abs(zeroed["rear_fz_n"][:200].mean()) < 0.5


def test_the_zero_is_that_of_every_side_of_the_deck(tmp_path: Path) -> None:
    # Invented: somebody's foot is still on the rear side while the front side is quiet already.
    rng = np.random.default_rng(3)
    offsets = rng.normal(0.0, 20.0, 150)
    samples = offsets + rng.normal(0.0, 0.5, (800, 150))
    samples[:250, 2] += 300.0 + rng.normal(0.0, 60.0, 250)
    blocks = [packet(10 * k, samples[10 * k : 10 * k + 10]) for k in range(80)]
    found = traces(recorded(tmp_path / "a.mcap", blocks, "tiled"), "--tare", layout="tiled")
    forces = [n for n in found if n.endswith("_fz_n")]
    assert len(forces) == 50
    assert max(abs(float(np.mean(found[n][400:]))) for n in forces) < 0.5


def test_tiles_act_at_their_centres(tmp_path: Path) -> None:
    layout = load_layout("tiled")
    samples = np.zeros((5, 150))
    samples[:, 3 * 12 + 2] = 500.0
    path = recorded(tmp_path / "a.mcap", [packet(0, samples)], "tiled")
    found = traces(path, layout="tiled")
    assert len(found) == 2 + 5 * 50
    p = layout.platforms[12]
    np.testing.assert_allclose(found[f"{p.name}_copx_m"], p.centre[0], atol=1e-9)
    np.testing.assert_allclose(found[f"{p.name}_fz_n"], 500.0 * p.axes[2, 2], atol=1e-6)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--layout", "tiled"], "150"),
        (["--layout", "none"], "no layout file"),
        (["--source", "mound-b"], "holds no force feed"),
        (["--result", "cut-off-20"], "--result is for --to csv or parquet or c3d"),
    ],
)
def test_wrong_use_is_one_line_and_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    path = recorded(tmp_path / "a.mcap", [packet(0, np.ones((10, 12)))])
    out = tmp_path / "out.csv"
    assert main(["export", str(path), "--to", "traces", "-o", str(out), *words]) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.mcap"]


def test_nothing_is_overwritten_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = recorded(tmp_path / "a.mcap", [packet(0, np.ones((10, 12)))])
    out = tmp_path / "out.csv"
    out.write_text("mine")
    words = ["export", str(path), "--to", "traces", "-o", str(out)]
    assert main(words) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert out.read_text() == "mine"
    assert main([*words, "--overwrite"]) == 0
    assert out.read_text().startswith("frame,")


def test_stopped_in_the_middle_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = recorded(tmp_path / "a.mcap", [packet(0, np.ones((10, 12)))])

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("analysis.exports.traces.trace_values", stop)
    assert main(["export", str(path), "--to", "traces", "-o", str(tmp_path / "o.csv")]) == 1
    assert "stopped" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.mcap"]


def test_two_mounds_must_be_chosen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = ForceMessage("mound-b", "s", 0, 0, RATE, np.ones((10, 12), np.float32))
    packets = [
        packet(0, np.ones((10, 12))),
        Packet(topic("mound-b", TopicKind.FORCE), encode_force(other), 5),
    ]
    path = recorded(tmp_path / "a.mcap", packets)
    out = tmp_path / "out.csv"
    words = ["export", str(path), "--to", "traces", "-o", str(out)]
    assert main(words) == 2
    assert "mound-a and mound-b" in capsys.readouterr().err
    assert main([*words, "--source", "mound-b"]) == 0
