"""C3D files of a session: general readers find the same forces, places, events and rates.

Two independent readers: ezc3d (with its force platform extraction) and the stricter `c3d`.
Conventions are those of the C3D user guide ("The FORCE_PLATFORM group", "The EVENT group", "The
ANALOG group"). Tolerances are float32's.
"""

from __future__ import annotations

import json
import stat
import struct
import warnings
from pathlib import Path
from typing import Any

import c3d
import ezc3d
import numpy as np
import pytest

from analysis.sessions.measured import MeasuredPitch, measure
from analysis.sessions.stored import StoredSession, read_session
from stream.files import load_layout
from stream.forces import centre_of_pressure, platform_forces
from tests.exports.sessions import act, session_of, simulated
from tui.commands.main import main


@pytest.fixture(scope="module")
def pitches(unfiltered: Path) -> dict[int, MeasuredPitch]:
    session: StoredSession = read_session(unfiltered)
    return {p.record.number: p for p in measure(session, settings=session.settings).pitches}


def library(path: Path) -> Any:
    return ezc3d.c3d(str(path), extract_forceplat_data=True)


def value(file: Any, group: str, name: str) -> Any:
    return file["parameters"][group][name]["value"]


def strict_reader(path: Path) -> tuple[np.ndarray, c3d.Reader]:
    """Analog data (channels, n) as the second reader gives them."""
    with path.open("rb") as file, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No point data")
        reader = c3d.Reader(file)
        frames = [analog for _, _, analog in reader.read_frames()]
    return np.concatenate(frames, axis=1), reader


def test_a_file_of_an_invented_session_says_so(files: Path) -> None:
    for path in files.iterdir():
        (said,) = value(library(path), "PITCH", "INVENTED")
        assert said.startswith("Invented data: the recording says that it was simulated.")


def test_one_file_a_pitch_for_the_owner_alone(
    files: Path, pitches: dict[int, MeasuredPitch]
) -> None:
    names = sorted(p.name for p in files.iterdir())
    assert names == [f"pitch-{n:03d}.c3d" for n in pitches]
    assert stat.S_IMODE(files.stat().st_mode) == 0o700
    for path in files.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_readers_find_our_forces_and_places(files: Path, pitches: dict[int, MeasuredPitch]) -> None:
    for number, pitch in pitches.items():
        rear, front = library(files / f"pitch-{number:03d}.c3d")["data"]["platform"]
        for plate, force, cop in (
            (rear, pitch.traces.drive, pitch.traces.drive_cop),
            (front, pitch.traces.lead, pitch.traces.lead_cop),
        ):
            # The movement, and half a second after it.
            assert plate["force"].shape[1] == len(force) + 100
            np.testing.assert_allclose(plate["force"].T[: len(force)], force, atol=2e-3)
            told = np.isfinite(cop[:, 0])
            assert told.any()
            theirs = plate["center_of_pressure"][:2, : len(cop)].T / 1000.0
            np.testing.assert_allclose(theirs[told], cop[told], atol=1e-5)
    # Under load the laboratory's vertical force is positive: reaction on the person.
    assert rear["force"][2].max() > 500


def test_both_readers_read_the_same(files: Path, beside: Path) -> None:
    for path in (files / "pitch-001.c3d", beside / "pitch-001.c3d"):
        theirs, reader = strict_reader(path)
        ours = library(path)["data"]["analogs"][0]
        np.testing.assert_allclose(theirs, ours, rtol=1e-6, atol=1e-6)
        assert reader.analog_rate == value(library(path), "ANALOG", "RATE")[0]
        assert reader.get("FORCE_PLATFORM:USED").int16_value == 2
        np.testing.assert_array_equal(reader.get("FORCE_PLATFORM:TYPE").int16_array, [2, 2])
        channels = reader.get("FORCE_PLATFORM:CHANNEL").int16_array
        np.testing.assert_array_equal(np.ravel(channels), np.arange(1, 13))


def test_platforms_stand_where_the_layout_says(files: Path) -> None:
    layout = load_layout("two-plates")
    file = library(files / "pitch-001.c3d")
    corners = value(file, "FORCE_PLATFORM", "CORNERS")
    for k, p in enumerate(layout.platforms):
        ours = {tuple(np.round(1000 * c, 3)) for c in p.corners}
        assert {tuple(np.round(c, 3)) for c in corners[:, :, k].T} == ours
        # The user guide: z of a floor platform points down.
        assert (
            np.cross(corners[:, 0, k] - corners[:, 1, k], corners[:, 0, k] - corners[:, 3, k])[2]
            < 0
        )
    assert (value(file, "FORCE_PLATFORM", "ORIGIN") == 0).all()
    assert value(file, "POINT", "UNITS") == ["mm"]
    assert value(file, "ANALOG", "UNITS")[:6] == ["N"] * 3 + ["Nmm"] * 3


def test_rates_are_whole_multiples(files: Path, beside: Path) -> None:
    for folder, point, analog, ratio in ((files, 200.0, 200.0, 1), (beside, 250.0, 1000.0, 4)):
        for path in folder.iterdir():
            words = struct.unpack_from("<10H", path.read_bytes())
            # The user guide, "The header section": word 10 samples a frame, word 3 samples in all.
            assert words[9] == ratio
            assert words[2] == 12 * ratio
            file = library(path)
            assert value(file, "POINT", "RATE")[0] == point
            assert value(file, "ANALOG", "RATE")[0] == analog
            assert file["data"]["analogs"].shape[2] == ratio * (words[4] - words[3] + 1)


def test_resampling_keeps_every_sample_and_tells_its_error(files: Path, beside: Path) -> None:
    for path in files.iterdir():
        plain = library(path)["data"]["analogs"][0]
        fine = library(beside / path.name)
        analogs = fine["data"]["analogs"][0]
        kept = analogs[:, ::5]
        np.testing.assert_allclose(kept, plain[:, : kept.shape[1]], rtol=1e-6, atol=1e-4)
        error = value(fine, "PITCH", "RESAMPLING_ERROR_N")[0]
        assert 0 < error < 0.005 * np.abs(plain[[0, 1, 2, 6, 7, 8]]).max()
        assert "cubic spline" in value(fine, "PITCH", "SAMPLES")[0]


def test_events_lie_where_the_record_says(
    files: Path, beside: Path, pitches: dict[int, MeasuredPitch]
) -> None:
    for folder in (files, beside):
        for number, pitch in pitches.items():
            file = library(folder / f"pitch-{number:03d}.c3d")
            first = value(file, "PITCH", "FIRST_FRAME")[0]
            minutes, seconds = value(file, "EVENT", "TIMES")
            record = pitch.record
            contact = ((record.foot_contact_frame or 0.0) - first) / 200.0
            wanted = sorted(contact + t for t in record.events_s.values() if t is not None)
            np.testing.assert_allclose(60 * minutes + seconds, wanted, atol=2e-6)
            at = value(file, "EVENT", "LABELS").index("Foot contact")
            lead = "Left" if record.throws == "R" else "Right"
            assert value(file, "EVENT", "CONTEXTS")[at] == lead
            assert value(file, "EVENT", "USED")[0] == len(wanted)
            assert set(value(file, "EVENT", "SUBJECTS")) == {record.pitcher}
            assert value(file, "SUBJECTS", "NAMES") == [record.pitcher]


def test_metrics_are_in_the_analysis_group(files: Path, pitches: dict[int, MeasuredPitch]) -> None:
    file = library(files / "pitch-002.c3d")
    names, values = value(file, "ANALYSIS", "NAMES"), value(file, "ANALYSIS", "VALUES")
    metrics = pitches[2].record.metrics
    found = dict(zip(names, values, strict=True))
    assert set(found) == {k for k, v in metrics.items() if v is not None}
    for key, number in found.items():
        assert number == pytest.approx(metrics[key], rel=1e-6)


def test_import_and_replay_find_the_pitch_again(
    files: Path, pitches: dict[int, MeasuredPitch], tmp_path: Path
) -> None:
    source = files / "pitch-003.c3d"
    out, layout, traces = (tmp_path / name for name in ("a.mcap", "a.toml", "a.csv"))
    assert main(["import", str(source), "-o", str(out), "--layout-out", str(layout)]) == 0
    words = ["export", str(out), "--layout", str(layout), "--to", "traces", "-o", str(traces)]
    assert main(words) == 0
    table = np.genfromtxt(traces, delimiter=",", names=True)
    for k, plate in enumerate(library(source)["data"]["platform"]):
        ours = np.stack([table[f"plate{k + 1}_f{a}_n"] for a in "xyz"])
        np.testing.assert_allclose(ours, plate["force"], atol=2e-3)
    lines = tmp_path / "a.jsonl"
    assert main(["replay", str(out), "--layout", str(layout), "--jsonl", str(lines)]) == 0
    (again,) = [json.loads(line) for line in lines.read_text().splitlines()]
    before = pitches[3].record.metrics
    for key in ("drive_peak_n", "landing_peak_n", "stride_m"):
        assert again["metrics"][key] == pytest.approx(before[key], rel=0.03)
    built, shipped = load_layout(str(layout)), load_layout("two-plates")
    for a, b in zip(built.platforms, shipped.platforms, strict=True):
        np.testing.assert_allclose(a.corners, b.corners, atol=1e-6)
    assert built.split_x == pytest.approx(shipped.split_x, abs=1e-6)
    assert built.deck.fall_per_m == pytest.approx(shipped.deck.fall_per_m, abs=1e-6)


def test_gaps_cut_a_file_and_what_the_operator_did_is_in_it(
    session: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from analysis.exports import windows

    plain = windows._cut

    def holed(core: Any, pitch: Any) -> Any:
        cut = plain(core, pitch)
        assert cut is not None
        at = int(pitch.record.foot_contact_frame) - cut.first_frame
        cut.samples[at - 300] = np.nan
        if pitch.record.number == 2:
            cut.samples[at] = np.nan
        return cut

    monkeypatch.setattr(windows, "_cut", holed)
    act(session, "void", 1, reason="slipped")
    act(session, "reassign", 3, pitcher="P77")
    out = session.parent / "c3d"
    assert main(["export", str(session), "--to", "c3d", "-o", str(out)]) == 0
    said = capsys.readouterr().err
    assert "Pitch 2 has no file: frames are missing at foot contact" in said
    assert "Pitch 1: " in said
    assert not (out / "pitch-002.c3d").exists()
    file = library(out / "pitch-001.c3d")
    assert np.isfinite(file["data"]["analogs"]).all()
    assert value(file, "PITCH", "VOID") == ["yes"]
    assert value(library(out / "pitch-003.c3d"), "SUBJECTS", "NAMES") == ["P77"]
    at = value(file, "EVENT", "LABELS").index("Foot contact")
    assert value(file, "EVENT", "TIMES")[1, at] == pytest.approx(299 / 200.0, abs=0.006)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--point-rate", "251"], "50200 Hz"),
        (["--point-rate", "0"], "cannot be used"),
        (["--point-rate", "nan"], "cannot be used"),
        (["--sync-column", "sync"], "--sync-column needs --sync-file"),
        (["--layout", "tiled"], "--layout is for --to traces"),
        (["--names", "roster.csv"], "never names"),
        (["--sync-file", "lab.csv"], "--sync-column"),
    ],
)
def test_wrong_use_leaves_nothing(
    session: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    out = session.parent / "c3d"
    assert main(["export", str(session), "--to", "c3d", "-o", str(out), *words]) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert sorted(p.name for p in session.parent.iterdir()) == ["tuesday"]


def test_a_folder_with_something_in_it_is_refused(
    session: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = session.parent / "c3d"
    out.mkdir()
    (out / "mine.txt").write_text("mine")
    assert main(["export", str(session), "--to", "c3d", "-o", str(out)]) == 2
    assert "name another" in capsys.readouterr().err
    assert [p.name for p in out.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("name", ["tiled", "four-corner"])
def test_other_layouts(name: str, tmp_path: Path) -> None:
    """The whole deck's force and line of action are the same for a general reader."""
    folder = session_of(simulated(tmp_path, layout=name, pitches=1), tmp_path / "s")
    out = tmp_path / "c3d"
    assert main(["export", str(folder), "--to", "c3d", "-o", str(out)]) == 0
    plates = library(out / "pitch-001.c3d")["data"]["platform"]
    layout = load_layout(name)
    assert len(plates) == len(layout.platforms)
    total = sum(plate["force"] for plate in plates)
    weight = read_session(folder).pitches[0].body_weight_n
    assert weight is not None
    # Quiet standing at the window's beginning bears the body.
    assert total[2, :100].mean() == pytest.approx(weight, rel=0.02)
    for k, plate in enumerate(plates):
        if name == "tiled":
            loaded = plate["force"][2] > 50
            theirs = plate["center_of_pressure"][:, loaded].T / 1000.0
            np.testing.assert_allclose(
                theirs, np.tile(layout.platforms[k].centre, (len(theirs), 1)), atol=1e-5
            )


def test_line_of_action_of_a_bent_deck() -> None:
    """One platform for two planes: moved along the force, the reader's place is ours."""
    from analysis.exports.c3d_plates import plates_of

    layout = load_layout("four-corner")
    rng = np.random.default_rng(1)
    samples = rng.normal(0, 20, (50, 12))
    samples[:, 2::3] += 250.0
    plates = plates_of(layout, samples)
    forces = platform_forces(layout, samples)
    place = centre_of_pressure(layout, forces)[:, 0]
    corners = plates.corners[:, :, 0].T
    x = (corners[0] - corners[1]) / np.linalg.norm(corners[0] - corners[1])
    z = np.cross(x, corners[0] - corners[3])
    z /= np.linalg.norm(z)
    turn = np.column_stack([x, np.cross(z, x), z])
    force, moment = plates.channels[:, :3], plates.channels[:, 3:]
    # The user guide: on the surface x = -My / Fz, y = Mx / Fz.
    local = np.column_stack([-moment[:, 1], moment[:, 0], 0 * moment[:, 0]]) / force[:, 2:3]
    theirs = corners.mean(axis=0) + local @ turn.T
    world = force @ turn.T
    np.testing.assert_allclose(world, forces.force[:, 0], atol=1e-9)
    height = 1000.0 * layout.deck.height(place[:, 0])
    along = theirs + world * ((height - theirs[:, 2]) / world[:, 2])[:, None]
    free = np.abs(along[:, :2] / 1000.0 - place).max()
    assert free < 0.02
