"""`moundfeed replay` from end to end, on a small simulated recording (invented data)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from stream.files import load_layout
from stream.outputs import NotCounted, PitchClosed, record_json
from stream.pipeline import Pipeline
from stream.recording.plain import PlainWriter
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of
from stream.recording.session import Session
from stream.wire import Packet
from tui.commands.main import main


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("replay") / "made.mcap"
    arguments = ["--pitches", "3", "--quick", "--no-traffic", "--seed", "5", "--block", "10"]
    assert main(["simulate", "--to", str(path), *arguments]) == 0
    return path


@pytest.fixture(scope="module")
def live(made: Path) -> bytes:
    """What the core says when it gets the same packets one by one, as it does live."""
    recording = read_recording(made)
    setup = setup_of(recording)
    packets = list(recording.packets())
    core = Pipeline(
        "mound-a",
        setup.layout,
        setup.settings,
        setup.roster,
        pitcher=setup.start.pitcher,
        first_number=setup.start.first_number,
    )
    outputs = [output for packet in packets for output in core.receive(packet)] + core.finish()
    closed = [o.record for o in outputs if isinstance(o, PitchClosed | NotCounted)]
    return b"".join(record_json(record) + b"\n" for record in closed)


def test_the_records_are_those_of_the_live_run(made: Path, live: bytes, tmp_path: Path) -> None:
    out = tmp_path / "out.jsonl"
    assert main(["replay", str(made), "--jsonl", str(out)]) == 0
    assert out.read_bytes() == live
    assert sum('"number"' in line for line in out.read_text().splitlines()) == 3


def test_layout_roster_and_pitcher_as_in_live_use(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = tmp_path / "bare.mcap"
    with PlainWriter(bare) as writer:
        for packet in read_recording(made).packets():
            if packet.topic.endswith(("force", "speed")):
                writer.write(packet)
    out = tmp_path / "out.jsonl"
    assert main(["replay", str(bare), "--jsonl", str(out)]) == 2
    assert "carries no layout" in capsys.readouterr().err
    roster = tmp_path / "roster.csv"
    roster.write_text("pitcher,throws\nP07,L\n")
    arguments = ["--layout", "two-plates", "--pitchers", str(roster), "--pitcher", "P07"]
    assert main(["replay", str(bare), "--jsonl", str(out), *arguments]) == 0
    pitches = [json.loads(line) for line in out.read_text().splitlines() if '"number"' in line]
    assert [(p["pitcher"], p["throws"]) for p in pitches] == [("P07", "L")] * 3


def test_a_session_folder_from_a_recording(made: Path, live: bytes, tmp_path: Path) -> None:
    folder = tmp_path / "session"
    assert main(["replay", str(made), "--session", str(folder)]) == 0
    session = Session.open(folder)
    assert session.about.source == "mound-a"
    assert (folder / "pitches.jsonl").read_bytes() == live
    (copy,) = session.recordings()
    assert copy.read_bytes() == made.read_bytes()
    assert session.layout_text == load_layout("two-plates").origin_text
    assert [e["what"] for e in session.log()].count("replayed") == 1
    assert any(e["what"] == "action" and e["action"] == "pitcher" for e in session.log())
    assert main(["replay", str(made), "--session", str(folder)]) == 2


@pytest.mark.parametrize("given", ["settings", "pitcher"])
def test_a_session_measured_with_something_else_can_be_verified(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], given: str
) -> None:
    """Its copy carried the old settings or nobody's name: recompute found every number other."""
    settings, roster = tmp_path / "soft.toml", tmp_path / "roster.csv"
    settings.write_text("filter_hz = 20.0\n")
    roster.write_text("pitcher,name,throws,height_m\nP07,Somebody,L,1.80\n")
    words = {
        "settings": ["--settings", str(settings)],
        "pitcher": ["--pitchers", str(roster), "--pitcher", "P07"],
    }[given]
    folder = tmp_path / "session"
    assert main(["replay", str(made), "--session", str(folder), *words]) == 0
    (copy,) = Session.open(folder).recordings()
    assert list(read_recording(copy).packets()) == list(read_recording(made).packets())
    assert b"Somebody" not in copy.read_bytes()
    assert read_recording(copy).metadata.keys() >= read_recording(made).metadata.keys()
    capsys.readouterr()
    assert main(["recompute", "--workers", "1", str(folder)]) == 0
    assert "same (3 pitches)" in capsys.readouterr().out


def test_a_damaged_recording_is_measured_and_said(
    made: Path, live: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = made.read_bytes()
    cut = tmp_path / "cut.mcap"
    cut.write_bytes(data[: len(data) * 2 // 3])
    out = tmp_path / "out.jsonl"
    assert main(["replay", str(cut), "--jsonl", str(out)]) == 0
    assert "was not closed" in capsys.readouterr().err
    pitches = [line for line in out.read_bytes().splitlines() if b'"number"' in line]
    assert 0 < len(pitches) < 3
    # The last may differ: its 3 s for a ball speed, or its end, may have been cut off.
    assert all(line in live for line in pitches[:-1])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["missing.mcap"], "missing.mcap: No such file"),
        (["{folder}"], "is not a session"),
        (["{made}", "--layout", "nowhere.toml"], "there is no layout file 'nowhere.toml'"),
        (["{made}", "--pitchers", "nowhere.csv"], "nowhere.csv: No such file"),
        (["{made}", "--settings", "{made}"], "is not"),
        (["{made}", "--jsonl", "{folder}/no/out.jsonl"], "there is no folder"),
        (["{made}", "--source", "mound-z"], "holds no feed of 'mound-z'"),
        (["{made}", "--session", "{folder}/s", "--source", "mound-z"], "name it with --source"),
    ],
)
def test_wrong_use_is_one_line_and_exit_2(
    made: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    says: str,
) -> None:
    given = [a.format(made=made, folder=tmp_path) for a in arguments]
    assert main(["replay", *given]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1


def test_several_mounds_in_one_recording_are_measured_apart(made: Path, tmp_path: Path) -> None:
    recording = read_recording(made)
    setup = setup_of(recording)
    alone = Mounds(setup)
    expected = [o for b in recording.batches() for o in alone.receive_many(b)] + alone.finish()

    def moved(packet: Packet) -> Packet:
        payload = bytes(packet.payload).replace(b"mound-a", b"mound-b")
        return Packet(packet.topic.replace("mound-a", "mound-b"), payload, packet.received_ns)

    both = Mounds(setup)
    outputs = []
    for batch in recording.batches(100):
        outputs += both.receive_many([p for q in batch for p in (q, moved(q))])
    outputs += both.finish()
    assert sorted(both.cores) == ["mound-a", "mound-b"]

    def closed(of: list[object], source: str) -> list[bytes]:
        return [
            record_json(o.record)
            for o in of
            if isinstance(o, PitchClosed) and o.record.source == source
        ]

    wanted = closed(list(expected), "mound-a")
    assert closed(list(outputs), "mound-a") == wanted
    assert len(wanted) == 3
    assert len(closed(list(outputs), "mound-b")) == 3


def test_an_input_that_is_not_the_recordings_own_is_said(
    made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(made), "--layout", "four-corner", "--pitcher", "P99"]) == 0
    said = capsys.readouterr().err
    assert "recorded with the layout 'two-plates' and measured here with 'four-corner'" in said
    assert "P99 is not on the roster" in said
    assert main(["replay", str(made), "--layout", "two-plates"]) == 0
    assert "recorded with" not in capsys.readouterr().err
