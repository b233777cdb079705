"""On a motion capture's clock: by shared pulses of known offset, or by the host's clock."""

from __future__ import annotations

import shutil
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from analysis.exports.sync import by_pulse
from stream.files import load_layout
from stream.recording.plain import PlainWriter
from stream.recording.reader import read_recording
from stream.wire import ForceMessage, Packet, decode_force, encode_force
from tests.exports.sessions import session_of
from tui.commands.main import main

PULSES_S = (20.0123, 60.0456, 100.0789)
OFFSET_S, PPM = 12.3456, 30.0


def laboratory_trace(path: Path) -> Path:
    """An invented motion capture's pulse channel at 1,000 Hz, on a clock of its own."""
    t = np.arange(0, 150, 0.001)
    pulse = np.zeros(len(t))
    for at in PULSES_S:
        on = at * (1 + PPM * 1e-6) + OFFSET_S
        pulse[(t >= on) & (t < on + 0.05)] = 5.0
    rows = np.column_stack([t, pulse])
    np.savetxt(path, rows, fmt="%.6f", delimiter=",", header="t_s,sync", comments="")
    return path


@pytest.fixture(scope="module")
def pulsed(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented session with a spare channel 12 on which the same pulses lie."""
    folder = tmp_path_factory.mktemp("pulsed")
    text = load_layout("two-plates").origin_text.replace("channels = 12", "channels = 13")
    text += "\n[spare]\nsync = 12\n"
    original = read_recording(recording)
    with PlainWriter(
        folder / "pulsed.mcap", layout_text=text, roster_csv=original.metadata["roster"]["csv"]
    ) as writer:
        for packet in original.packets():
            writer.write(_with_pulse(packet))
    return session_of(folder / "pulsed.mcap", folder / "s")


def _with_pulse(packet: Packet) -> Packet:
    if not packet.topic.endswith("/force"):
        return packet
    m = decode_force(packet.payload)
    t = (m.first_frame + np.arange(len(m.samples))) / m.rate_hz
    on = np.zeros(len(t))
    for at in PULSES_S:
        on[(t >= at) & (t < at + 0.05)] = 5.0
    samples = np.column_stack([m.samples, on]).astype(np.float32)
    message = ForceMessage(m.source, m.stream, m.first_frame, m.t_ns, m.rate_hz, samples)
    return Packet(packet.topic, encode_force(message), packet.received_ns)


def value(path: Path, name: str) -> float | str:
    found = ezc3d.c3d(str(path))["parameters"]["PITCH"][name]["value"][0]
    return found if isinstance(found, str) else float(found)


def test_pulses_give_the_offset_within_what_is_told(pulsed: Path, tmp_path: Path) -> None:
    lab = laboratory_trace(tmp_path / "lab.csv")
    trace = np.loadtxt(lab, delimiter=",", skiprows=1)
    layout = load_layout(str(pulsed / "layout.toml"))
    found = by_pulse(
        pulsed / "recording-001.mcap", layout, "mound-a", None, (trace[:, 0], trace[:, 1])
    )
    assert found.pulses == 3
    for at in PULSES_S:
        true = at * (1 + PPM * 1e-6) + OFFSET_S
        assert abs(at * found.rate + found.offset_s - true) < found.error.at(at) < 0.006


def test_files_tell_where_they_begin(
    pulsed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lab = laboratory_trace(tmp_path / "lab.csv")
    out = tmp_path / "c3d"
    words = ["export", str(pulsed), "--to", "c3d", "-o", str(out), "--point-rate", "250"]
    assert main([*words, "--sync-file", str(lab), "--sync-column", "sync"]) == 0
    assert "By 3 shared pulses" in capsys.readouterr().out
    for path in out.iterdir():
        frame = float(value(path, "FIRST_FRAME"))
        true = frame / 200.0 * (1 + PPM * 1e-6) + OFFSET_S
        error = float(value(path, "SYNC_UNCERTAINTY_S"))
        assert 0.001 < error < 0.006
        assert abs(float(value(path, "SYNC_START_S")) - true) < error
        assert value(path, "SYNC_METHOD") == "pulse"
        labels = ezc3d.c3d(str(path))["parameters"]["ANALOG"]["LABELS"]["value"]
        assert labels[-1] == "sync"


def test_by_clock_unless_there_is_a_pulse(unfiltered: Path, files: Path) -> None:
    path = files / "pitch-001.c3d"
    assert str(value(path, "SYNC")).startswith("By clock: UTC is the monitor's time")
    assert value(path, "SYNC_METHOD") == "clock"
    assert 0 < float(value(path, "SYNC_UNCERTAINTY_S")) < 0.1
    # The host's clock at the first frame: its message came a moment later.
    force = [
        p
        for p in read_recording(unfiltered / "recording-001.mcap").packets()
        if p.topic.endswith("/force")
    ]
    frame = int(float(value(path, "FIRST_FRAME")))
    came = next(p for p in force if decode_force(p.payload).first_frame > frame)
    told = np.datetime64(str(value(path, "UTC")).removesuffix("+00:00"))
    late = (np.datetime64(came.received_ns, "ns") - told) / np.timedelta64(1, "ms")
    assert 0 < late < 60


def test_an_imported_recording_tells_no_time_of_day(
    stored: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """1970 stood in its files, and that messages which never came lay within 0.0 ms of it."""
    traces, made, layout = (tmp_path / name for name in ("t.csv", "t.mcap", "t.toml"))
    recording = str(stored / "recording-001.mcap")
    assert main(["export", recording, "--to", "traces", "--tare", "-o", str(traces)]) == 0
    assert main(["import", str(traces), "-o", str(made), "--layout-out", str(layout)]) == 0
    session, out = session_of(made, tmp_path / "s"), tmp_path / "c3d"
    capsys.readouterr()
    assert main(["export", str(session), "--to", "c3d", "-o", str(out)]) == 0
    said = capsys.readouterr().out
    assert "tells no time of day" in said
    assert "of the feed's messages" not in said
    pitch = ezc3d.c3d(str(sorted(out.iterdir())[0]))["parameters"]["PITCH"]
    assert pitch["SYNC_METHOD"]["value"] == ["none"]
    assert not {"UTC", "SYNC_UNCERTAINTY_S", "SYNC_START_S"} & set(pitch)


@pytest.mark.parametrize(
    ("column", "sentence"), [("nothing", "no column 'nothing'"), ("t_s", "pulses")]
)
def test_pulses_that_do_not_match(
    pulsed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], column: str, sentence: str
) -> None:
    lab = laboratory_trace(tmp_path / "lab.csv")
    words = ["export", str(pulsed), "--to", "c3d", "-o", str(tmp_path / "c3d")]
    assert main([*words, "--sync-file", str(lab), "--sync-column", column]) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1


def test_a_layout_without_a_spare_channel(
    stored: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = Path(shutil.copytree(stored, tmp_path / "s"))
    lab = laboratory_trace(tmp_path / "lab.csv")
    words = ["export", str(session), "--to", "c3d", "-o", str(tmp_path / "c3d")]
    assert main([*words, "--sync-file", str(lab), "--sync-column", "sync"]) == 2
    assert "no spare channel" in capsys.readouterr().err
