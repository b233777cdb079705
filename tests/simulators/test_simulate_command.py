"""``moundfeed simulate`` as a user calls it."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from mcap.reader import make_reader

from analysis.sessions.clock import first_message
from stream.files import shipped_layouts
from tests.transport.waiting import free_port
from tui.commands.main import main


def _simulate(*words: object) -> int:
    return main(["simulate", *map(str, words)])


def _lines(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


@pytest.mark.parametrize("name", sorted(shipped_layouts()))
def test_a_session_and_its_truth_on_every_shipped_layout(tmp_path: Path, name: str) -> None:
    recording, truth = tmp_path / "s.mcap", tmp_path / "truth.jsonl"
    code = _simulate("--to", recording, "--layout", name, "--pitches", 3, "--pitchers", 2,
                     "--seed", 7, "--quick", "--truth", truth)  # fmt: skip
    assert code == 0
    pitches = [line for line in _lines(truth) if "number" in line]
    assert [line["number"] for line in pitches] == [1, 2, 3]
    assert {line["pitcher"] for line in pitches} == {"P01", "P02"}
    with recording.open("rb") as file:
        topics = {channel.topic for _, channel, _ in make_reader(file).iter_messages()}
    assert topics >= {"moundfeed/mound-a/force", "moundfeed/mound-a/operator"}


def test_styles_and_traffic_as_asked(tmp_path: Path) -> None:
    truth = tmp_path / "truth.jsonl"
    assert _simulate("--to", tmp_path / "s.mcap", "--pitches", 2, "--style", "slide_step",
                     "--traffic-minutes", 3, "--truth", truth) == 0  # fmt: skip
    lines = _lines(truth)
    assert [line["style"] for line in lines if "number" in line] == ["slide_step"] * 2
    assert any("not_counted" in line for line in lines)


def test_days_of_the_same_pitchers(tmp_path: Path) -> None:
    """All invented sessions began at one moment, so days could not be practised."""
    days = []
    for name, words in (
        ("a", ()),
        ("b", ("--begin", "2026-05-04T17:00")),
        ("c", ("--begin", "2026-05-06T19:00+02:00")),
    ):
        recording, truth = tmp_path / f"{name}.mcap", tmp_path / f"{name}.jsonl"
        assert _simulate("--to", recording, "--pitches", 2, "--pitchers", 1, "--quick", "--truth",
                         truth, *words) == 0  # fmt: skip
        days.append((first_message([recording]), [x for x in _lines(truth) if "number" in x]))
    began = [began.replace(microsecond=0) for began, _ in days if began is not None]
    assert began == [
        datetime(2025, 4, 1, 17, tzinfo=UTC),
        datetime(2026, 5, 4, 17, tzinfo=UTC),
        datetime(2026, 5, 6, 17, tzinfo=UTC),
    ]
    pitches = [pitches for _, pitches in days]
    assert len({str(day[0]["body_weight_n"]) for day in pitches}) == 1
    assert len({str(day[0]["metrics"]) for day in pitches}) == 3
    assert len({str(day[0]["stream"]) for day in pitches}) == 3


@pytest.mark.parametrize(
    ("scene", "seconds"), [("empty", 2), ("mass", 3), ("standing", 2), ("check", 7)]
)
def test_scenes_for_the_set_up_check(tmp_path: Path, scene: str, seconds: int) -> None:
    recording = tmp_path / "s.mcap"
    assert _simulate("--to", recording, "--scene", scene, "--seconds", 2, "--empty", 1) == 0
    with recording.open("rb") as file:
        count = sum(1 for _ in make_reader(file).iter_messages())
    assert count == pytest.approx(50 * seconds, abs=2)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--layout", "nowhere"), "there is no layout file"),
        (("--fault", "bewitched"), "is no fault"),
        (("--fault", "dead:77"), "channel 77"),
        (("--source", "a b"), "source"),
    ],
)
def test_wrong_use_is_one_clear_line_and_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str
) -> None:
    assert _simulate("--to", tmp_path / "s.mcap", *words) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1


@pytest.mark.parametrize("to", ["tcp://0.0.0.0:5555", "http://x", "tcp://nowhere", "s.txt"])
def test_addresses_that_will_not_do(to: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert _simulate("--to", to, "--pitches", 0) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [("--block", "0"), ("--speed", "0"), ("--speeds-missing", "2"), ("--at", "1"), ("--pitches",
      "-1"), ("--begin", "tuesday"), ("--begin", "1999-12-31")],
)  # fmt: skip
def test_values_out_of_range(tmp_path: Path, words: tuple[str, str]) -> None:
    with pytest.raises(SystemExit) as end:
        _simulate("--to", tmp_path / "s.mcap", *words)
    assert end.value.code == 2


def test_a_recording_is_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = tmp_path / "s.mcap"
    recording.write_text("mine")
    assert _simulate("--to", recording) == 2
    assert recording.read_text() == "mine"
    assert "never overwritten" in capsys.readouterr().err


def test_what_is_sent_begins_now(capsys: pytest.CaptureFixture[str]) -> None:
    assert _simulate("--to", "tcp://127.0.0.1:5599", "--begin", "2026-05-04") == 2
    assert "--begin is for a recording" in capsys.readouterr().err


def test_each_start_of_a_device_is_a_stream_of_its_own(tmp_path: Path) -> None:
    streams: list[object] = []
    for name in ("a", "b"):
        truth = tmp_path / name
        nobody = f"mqtt://127.0.0.1:{free_port()}"
        assert _simulate("--to", nobody, "--pitches", "1", "--quick", "--truth", truth) == 1
        streams += {line["stream"] for line in _lines(truth) if "stream" in line}
    first, second = streams
    assert first != second


def test_no_broker_is_a_failed_run(capsys: pytest.CaptureFixture[str]) -> None:
    assert _simulate("--to", f"mqtt://127.0.0.1:{free_port()}", "--scene", "empty") == 1
    assert "No broker answers" in capsys.readouterr().err


def test_faults_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert _simulate("--to", "anywhere", "--fault", "list") == 0
    assert "clock_step" in capsys.readouterr().out


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom tui.commands.main import main\n"
        "try:\n    main(['simulate', '--help'])\nexcept SystemExit:\n    pass\n"
        "sys.exit(any(m in sys.modules for m in ('numpy', 'scipy', 'zmq', 'aiomqtt')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
