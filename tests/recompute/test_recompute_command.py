"""`moundfeed recompute` in one process: verifying, new results, damage (invented data)."""

from __future__ import annotations

import json
import math
import os
import pty
import re
import signal
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from analysis.recompute.differences import differences, differences_not_counted
from analysis.recompute.job import Job, Outcome
from analysis.recompute.results import keep
from analysis.sessions.stored import read_session
from stream.outputs import NotCountedReason, NotCountedRecord, PitchRecord
from tests.monitor.programs import MOUNDFEED
from tests.recompute.stored import files_of
from tui.commands import recomputed
from tui.commands.main import main

Told = pytest.CaptureFixture[str]


def recompute(*words: str | Path) -> int:
    return main(["recompute", *map(str, words), "--workers", "1"])


def lines(file: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in file.read_text().splitlines()]


def test_the_same_numbers_come_again(sessions: list[Path], capsys: Told) -> None:
    before = [files_of(session) for session in sessions]
    assert recompute(*sessions) == 0
    out, err = capsys.readouterr()
    assert out.count(": same (2 pitches)") == 3
    assert "3 of 3 sessions measured again: same to the last bit." in out
    assert err == ""
    assert [files_of(session) for session in sessions] == before, "nothing is written"


def test_what_differs_is_named_to_the_metric(sessions: list[Path], capsys: Told) -> None:
    file = sessions[1] / "pitches.jsonl"
    records = lines(file)
    changed = next(r for r in records if r.get("number") == 2)
    metrics = changed["metrics"]
    assert isinstance(metrics, dict)
    was = metrics["landing_peak_bw"]
    metrics["landing_peak_bw"] = math.nextafter(was, 1e9)
    file.write_text("".join(json.dumps(r) + "\n" for r in records))
    assert recompute(*sessions) == 1
    out, err = capsys.readouterr()
    assert out.count("same (2 pitches)") == 2
    found = [line for line in out.splitlines() if line.startswith("  pitch")]
    assert found == [f"  pitch 2: landing_peak_bw {metrics['landing_peak_bw']!r}, now {was!r}"]
    assert "2 of 3 sessions" in out
    assert err.strip().endswith("session-2: differs")


def test_what_the_operator_changed_since_is_no_difference(
    sessions: list[Path], capsys: Told
) -> None:
    act = {"v": 1, "t_ns": 1, "what": "action", "source": "mound-a", "number": 1}
    with (sessions[0] / "log.jsonl").open("a") as log:
        log.write(json.dumps(act | {"action": "void", "reason": "slipped"}) + "\n")
        log.write(json.dumps(act | {"action": "speed", "speed_mps": 35.5}) + "\n")
    assert read_session(sessions[0]).pitches[0].speed_mps == 35.5
    assert recompute(sessions[0]) == 0
    assert "same (2 pitches)" in capsys.readouterr().out


def _no_recording(session: Path) -> None:
    (session / "recording-001.mcap").unlink()


def _no_session(session: Path) -> None:
    (session / "session.json").unlink()


def _no_layout(session: Path) -> None:
    (session / "layout.toml").write_text("this is no layout")


def _no_container(session: Path) -> None:
    (session / "recording-001.mcap").write_bytes(os.urandom(5000))


def _cut(session: Path) -> None:
    file = session / "recording-001.mcap"
    os.truncate(file, file.stat().st_size // 2)


def _unreadable(session: Path) -> None:
    (session / "recording-001.mcap").unlink()
    (session / "recording-001.mcap").mkdir()


@pytest.mark.parametrize(
    ("damage", "say"),
    [
        (_no_recording, "no recording"),
        (_no_session, "is not a session"),
        (_no_layout, "not TOML"),
        (_no_container, "recording-001.mcap"),
        (_cut, "differs"),
        (_unreadable, "recording-001.mcap"),
    ],
)
def test_a_damaged_session_does_not_stop_the_others(
    sessions: list[Path], capsys: Told, damage: object, say: str
) -> None:
    assert callable(damage)
    damage(sessions[1])
    assert recompute(*sessions[1:]) == 1
    out, err = capsys.readouterr()
    assert out.count("session-3: same (2 pitches)") == 1
    assert len(err.splitlines()) == 1
    assert "session-2: " in err
    assert say in err
    assert "program itself" not in err


def test_a_new_result_stands_beside_the_first(
    sessions: list[Path], low: Path, tmp_path: Path
) -> None:
    session = sessions[0]
    before = files_of(session)
    assert recompute(*sessions, "--settings", low, "--name", "cut-off-20") == 0
    after = files_of(session)
    assert {name: after[name] for name in before} == before, "the first is as it was"
    new = session / "results/cut-off-20"
    assert {Path(n).parts[:2] for n in after.keys() - before.keys()} == {("results", "cut-off-20")}
    assert [p.stat().st_mode & 0o777 for p in (new, new / "pitches.jsonl")] == [0o700, 0o600]
    # The command that measures one recording, asked the same, agrees to the byte.
    again = tmp_path / "again.jsonl"
    recording = str(session / "recording-001.mcap")
    assert main(["replay", recording, "--settings", str(low), "--jsonl", str(again)]) == 0
    assert sorted((new / "pitches.jsonl").read_bytes().splitlines()) == sorted(
        again.read_bytes().splitlines()
    )
    result, first = read_session(session, "cut-off-20"), read_session(session)
    assert (result.settings.filter_hz, first.settings.filter_hz) == (20.0, 40.0)
    low_rise, rise = (s.pitches[0].metrics["landing_rise_bw_per_s"] for s in (result, first))
    assert low_rise is not None
    assert rise is not None
    assert low_rise < rise, "a lower cut-off takes from the steepest slope"


def test_a_result_is_named_after_its_settings_file(sessions: list[Path], low: Path) -> None:
    odd = low.with_name("20 Hz, please.toml")
    low.rename(odd)
    assert recompute(sessions[0], "--settings", odd) == 0
    assert (sessions[0] / "results/20-Hz--please/pitches.jsonl").exists()


def test_another_layout_is_kept_with_its_result(
    sessions: list[Path], tmp_path: Path, capsys: Told
) -> None:
    text = (sessions[0] / "layout.toml").read_text()
    mine = tmp_path / "mine.toml"
    mine.write_text("# another sheet\n" + text)
    assert recompute(sessions[0], "--layout", mine, "--name", "sheet") == 0
    kept = read_session(sessions[0], "sheet")
    assert kept.layout.origin_text.startswith("# another sheet")
    assert kept.pitches == read_session(sessions[0]).pitches
    assert recompute(sessions[0], "--layout", "tiled", "--name", "wrong") == 1
    assert "150 channels" in capsys.readouterr().err
    assert not (sessions[0] / "results/wrong").exists()


def test_a_result_is_never_written_over(sessions: list[Path], low: Path, capsys: Told) -> None:
    assert recompute(sessions[0], "--settings", low) == 0
    before = files_of(sessions[0])
    capsys.readouterr()
    assert recompute(*sessions[:2], "--settings", low) == 0
    assert "session-1: has the result low already" in capsys.readouterr().out
    low.write_text("filter_hz = 15.0\n")
    assert recompute(*sessions, "--settings", low) == 1
    out, err = capsys.readouterr()
    assert "session-3: 2 pitches, kept as results/low" in out
    assert [line.split(": ")[1].rpartition("/")[2] for line in err.splitlines()] == [
        "session-1",
        "session-2",
    ]
    assert "another settings.toml" in err
    assert files_of(sessions[0]) == before


def test_a_result_left_unfinished_is_finished(sessions: list[Path], low: Path) -> None:
    assert recompute(sessions[0], "--settings", low) == 0
    new = sessions[0] / "results/low"
    whole = (new / "pitches.jsonl").read_bytes()
    (new / "pitches.jsonl").unlink()
    assert recompute(sessions[0], "--settings", low) == 0
    assert (new / "pitches.jsonl").read_bytes() == whole


@pytest.mark.parametrize(
    "words",
    [
        ["--name", "x"],
        ["--settings", "nowhere.toml"],
        ["--layout", "nowhere"],
        ["--settings", "LOW", "--name", "../x"],
        ["--workers", "many"],
    ],
)
def test_wrong_use_is_said_before_anything_is_done(
    sessions: list[Path], low: Path, words: list[str], capsys: Told
) -> None:
    told = [str(low) if word == "LOW" else word for word in words]
    try:
        code: object = main(["recompute", str(sessions[0]), *told])
    except SystemExit as error:
        code = error.code
    assert code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert not (sessions[0] / "results").exists()


def test_one_session_needs_no_dask(sessions: list[Path]) -> None:
    program = (
        "import sys; from tui.commands.main import main; "
        f"assert main(['recompute', {str(sessions[0])!r}]) == 0; "
        f"assert main(['recompute', {str(sessions[0])!r}, {str(sessions[1])!r}, "
        "'--workers', '0']) == 0; "
        "assert not {'dask', 'distributed', 'pyarrow', 'pandas'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, timeout=60)


def test_progress_is_shown_on_a_terminal(sessions: list[Path]) -> None:
    terminal, end = pty.openpty()
    command = [*MOUNDFEED, "recompute", *map(str, sessions[:2]), "--workers", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=end) as process:
        os.close(end)
        out, _ = process.communicate(timeout=60)
    shown = b""
    while chunk := _read(terminal):
        shown += chunk
    os.close(terminal)
    percents = [int(found) for found in re.findall(rb"\rrecompute: (\d+) %", shown)]
    assert percents == sorted(percents)
    assert {50, 100} <= set(percents)
    assert len(percents) > 5, "also within a session"
    assert b"recompute" not in out


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:  # the other end is closed: all has been read
        return b""


RECORD = PitchRecord(
    "mound-a", "s", 1, "P03", "R", 10.5, {"foot_contact": 0.0, "drive_peak": -0.1}, 880.0,
    {"drive_peak_bw": 166.2, "stride_height": None}, flags=("height_unknown",),
)  # fmt: skip


@pytest.mark.parametrize(
    ("change", "say"),
    [
        ({"pitcher": "P04"}, "pitch 1: pitcher 'P03', now 'P04'"),
        ({"speed_mps": 36.0}, "pitch 1: speed_mps not measured, now 36.0"),
        ({"flags": ()}, "pitch 1: flags height_unknown, now (none)"),
        ({"foot_contact_frame": 10.0}, "pitch 1: foot_contact_frame 10.5, now 10.0"),
        (
            {"events_s": {"foot_contact": 0.0, "drive_peak": None}},
            "pitch 1: drive_peak -0.1, now not measured",
        ),
        ({"metrics": {"drive_peak_bw": 166.2}}, "pitch 1: stride_height not measured, now not"),
        ({"number": 2}, "pitch 1: stored, but not found in the recordings"),
    ],
)
def test_each_kind_of_difference_is_said(change: dict[str, object], say: str) -> None:
    found = differences([RECORD], [msgspec.structs.replace(RECORD, **change)])
    assert found[0].startswith(say)
    assert differences([RECORD], [RECORD]) == ()


def test_every_field_of_a_record_is_compared() -> None:
    """But the mound and the version, which a session cannot change."""
    fields = {field.name for field in msgspec.structs.fields(PitchRecord)}
    other: dict[str, object] = {"stream": "t", "pitcher": "X", "throws": "L", "note": "n"}
    other |= {"foot_contact_frame": 1.0, "body_weight_n": 1.0, "speed_mps": 1.0, "flags": ()}
    other |= {"events_s": {}, "metrics": {}, "number": 2, "estimated": ("a",)}
    assert fields - other.keys() == {"source", "v"}
    for name, value in other.items():
        assert differences([RECORD], [msgspec.structs.replace(RECORD, **{name: value})]), name


def test_movements_that_were_not_counted_are_compared_too() -> None:
    off = NotCountedRecord("mound-a", "s", NotCountedReason.STEP_OFF, 20.0, "why")
    assert differences_not_counted([off], [off]) == ()
    assert differences_not_counted([off], []) == (
        "step_off at frame 20.0: stored, but not measured again",
    )
    assert differences_not_counted([], [off]) == (
        "step_off at frame 20.0: measured, but not stored",
    )


def test_an_interrupt_between_keeping_and_telling_waits_for_the_telling(
    sessions: list[Path], low: Path, capsys: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    def keep_and_press(job: Job, outcome: Outcome, name: str) -> Path:
        kept = keep(job, outcome, name)
        os.kill(os.getpid(), signal.SIGINT)
        return kept

    monkeypatch.setattr(recomputed, "keep", keep_and_press)
    assert recompute(*sessions, "--settings", low) == 1
    out, err = capsys.readouterr()
    kept = [s for s in sessions if (s / "results/low/pitches.jsonl").exists()]
    assert len(kept) == out.count("kept as results/low") == 1
    assert "1 of 3 sessions are done" in err
