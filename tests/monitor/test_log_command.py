from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import zmq

from stream.monitor.plan import Plan
from stream.outputs import (
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Pitch,
    PitchChanged,
    PitchRecord,
)
from stream.recording.reader import read_recording
from tests.monitor.fakes import pitch, record
from tests.monitor.programs import MOUNDFEED, outcome, start
from tests.screens import invented
from tests.transport.feeds import force
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import eventually_now, free_port
from tui.commands.lines import Lines, pitch_sentence


class Device:
    """A device that sends quiet readings until it is stopped."""

    def __init__(self) -> None:
        self.url = f"tcp://127.0.0.1:{free_port()}"
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Device:
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        with zmq.Context() as context, context.socket(zmq.PUB) as socket:
            socket.linger = 0
            socket.bind(self.url)
            number = 0
            while not self._stop.wait(0.01):
                socket.send_multipart([b"moundfeed/mound-a/force", force(number)])
                number += 1


@pytest.fixture
def device() -> Iterator[Device]:
    with Device() as made:
        yield made


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_when_told(device: Device, tmp_path: Path, number: signal.Signals) -> None:
    file, lines = tmp_path / "r.mcap", tmp_path / "p.jsonl"
    log = start(
        "log", "--from", device.url, "--layout", "two-plates", "--jsonl", lines, "--record", file
    )
    eventually_now(lambda: file.exists() and file.stat().st_size > 3000, "it records")
    log.send_signal(number)
    out, err = log.communicate(timeout=30)
    assert log.returncode == 0, err
    assert out == "", "without a terminal the files are the output"
    assert "Connected" in err
    assert lines.read_text() == ""
    recording = read_recording(file)
    assert len(list(recording.packets())) > 10
    assert not recording.truncated
    for path in (file, lines):
        assert path.stat().st_mode & 0o077 == 0, "owner-only"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["log"], "--from"),
        (["log", "--from", "tcp://127.0.0.1:5"], "--layout is needed"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates"], "nothing would be kept"),
        (["log", "--from", "bullpen", "--layout", "two-plates", "--jsonl", "{}/o"], "tcp://HOST"),
        (["log", "--from", "mqtt://a:hunter2@h", "--layout", "two-plates", "--jsonl", "{}/o"],
         "password"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "nowhere", "--jsonl", "{}/o"],
         "nowhere"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--jsonl", "{}/no/o"],
         "no folder"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--jsonl", "{}/o",
          "--pitches", "0"], "--pitches"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--jsonl", "{}/o",
          "--publish", "tcp://0.0.0.0:5"], "--open-to-network"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--jsonl", "{}/o",
          "--view", "tcp://*:5"], "--open-to-network"),
        (["log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--jsonl", "{}/o",
          "--keys", "{}"], "client.key_secret"),
        (["log", "--from", "mqtt://u@h", "--layout", "two-plates", "--jsonl", "{}/o"],
         "MOUNDFEED_MQTT_PASSWORD"),
        (["pitch"], "invalid choice"),
        (["keys", "{}/k", "--client", "../x"], "cannot be a name"),
    ],
)  # fmt: skip
def test_wrong_use_is_one_line_and_exit_code_2(words: list[str], says: str, tmp_path: Path) -> None:
    code, out, err = outcome(*(word.replace("{}", str(tmp_path)) for word in words))
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.strip().split("\n")) == 1
    assert "hunter2" not in err
    assert "Traceback" not in err


def test_a_recording_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "r.mcap").write_bytes(b"precious")
    code, _, err = outcome(
        "log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--record",
        tmp_path / "r.mcap",
    )  # fmt: skip
    assert code == 2
    assert "never overwritten" in err
    assert (tmp_path / "r.mcap").read_bytes() == b"precious"


def test_a_session_has_its_own_recording_and_no_other(tmp_path: Path) -> None:
    """Without the recording in its folder a session could not be measured again."""
    code, _, err = outcome(
        "log", "--from", "tcp://127.0.0.1:5", "--layout", "two-plates", "--record",
        tmp_path / "r.mcap", "--session", tmp_path / "s",
    )  # fmt: skip
    assert code == 2
    assert "keeps its own recording" in err
    assert "leave out --record" in err
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ValueError, match="its own recording"):
        Plan(feed="tcp://127.0.0.1:5", layout="", record="r.mcap", session="s")


def test_help_loads_nothing_heavy() -> None:
    """What takes time is loaded when it is needed: --help stays quick on a small laptop."""
    code = (
        "import sys\n"
        "from tui.commands.main import main\n"
        "try: main(['log', '--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'numpy', 'zmq', 'aiomqtt', 'textual', 'asyncio', 'msgspec'}"
        " & set(sys.modules)), file=sys.stderr)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "--from URL" in run.stdout
    assert run.stderr.strip() == "[]"


def test_the_command_line_lists_every_command_that_is_there() -> None:
    code, out, _ = outcome("--help")
    assert code == 0
    for name in ("simulate", "log", "replay", "keys"):
        assert f"\n    {name} " in out
    code, out, _ = outcome()
    assert code == 0
    assert "commands" in out


def test_keys_are_made_by_one_command(tmp_path: Path) -> None:
    code, out, _ = outcome("keys", tmp_path / "k", "--client", "monitor", "--client", "tablet")
    assert code == 0
    assert sorted(Path(line.removeprefix("made ")).name for line in out.split("\n") if line) == [
        "monitor", "server", "tablet",
    ]  # fmt: skip


@pytest.mark.parametrize("carrier", ["zeromq", "mqtt"])
def test_live_and_replay_give_the_same_pitches(
    carrier: str, broker: Mosquitto, tmp_path: Path
) -> None:
    """Device, broker, monitor and replay as separate processes; an invented session."""
    url = f"tcp://127.0.0.1:{free_port()}" if carrier == "zeromq" else broker.url
    live, again, file = tmp_path / "live.jsonl", tmp_path / "again.jsonl", tmp_path / "r.mcap"
    log = start(
        "log", "--from", url, "--layout", "two-plates", "--jsonl", live, "--record", file,
        "--pitches", "1", "--pitcher", "P03",
    )  # fmt: skip
    if carrier == "mqtt":  # a device on a broker cannot know whether anybody listens yet
        assert log.stderr is not None
        assert "Connected" in log.stderr.readline()
    device = start(
        "simulate", "--to", url, "--pitches", "1", "--quick", "--no-traffic", "--seed", "5",
        "--speed", "10", "--speeds-missing", "0",
    )  # fmt: skip
    _, err = log.communicate(timeout=120)
    assert log.returncode == 0, err
    device.terminate()
    device.communicate(timeout=30)
    code, _, err = outcome("replay", file, "--layout", "two-plates", "--jsonl", again)
    assert code == 0, err
    records = [json.loads(line) for line in live.read_text().splitlines()]
    assert [r["number"] for r in records] == [1]
    assert all(r["pitcher"] == "P03" and r["speed_mps"] is not None for r in records)
    assert live.read_bytes() == again.read_bytes()


def test_on_a_terminal_each_pitch_is_one_plain_sentence(tmp_path: Path) -> None:
    url = f"tcp://127.0.0.1:{free_port()}"
    ours, its = pty.openpty()
    log = subprocess.Popen(
        [*MOUNDFEED, "log", "--from", url, "--layout", "two-plates", "--jsonl",
         str(tmp_path / "p.jsonl"), "--pitches", "1", "--pitcher", "P03"],
        stdin=subprocess.DEVNULL, stdout=its, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    device = start(
        "simulate", "--to", url, "--pitches", "1", "--quick", "--no-traffic", "--seed", "5",
        "--speed", "10", "--speeds-missing", "0",
    )  # fmt: skip
    assert log.wait(120) == 0
    device.terminate()
    device.communicate(timeout=30)
    os.close(its)
    text = os.read(ours, 65536).decode()
    os.close(ours)
    assert "\x1b" not in text, "no cursor movement, no colour"
    assert "Pitch 1, P03: push-off" in text
    assert "Pitch 1: ball speed" in text
    assert "mph" in text


def test_the_sentences_say_what_was_not_measured() -> None:
    assert pitch_sentence(record(7)) == (
        "Pitch 7, P03: push-off 166 % of body weight, landing not measured."
    )
    nameless = PitchRecord("m", "s", 2, "", None, None, {}, None, {"landing_peak_bw": 240.4})
    assert pitch_sentence(nameless) == (
        "Pitch 2: push-off not measured, landing 240 % of body weight."
    )


def test_a_line_says_whether_the_pitch_is_like_the_others() -> None:
    lines = Lines()
    told = [next(iter(lines.of(p))) for p in (*invented.session(8), invented.pitch(9, push=140.0))]
    assert "Too few pitches of P03 to compare with yet" in told[0]
    assert "Like the other pitches of P03." in told[7]
    assert "below P03's usual" in told[8]
    void = invented.record(9, push=140.0, flags=("void",))
    assert list(lines.of(PitchChanged(void))) == []


def test_lines_of_several_mounds_and_of_hostile_names() -> None:
    lines = Lines()
    assert next(iter(lines.of(Pitch(record(1), pitch(1).traces)))).startswith("Pitch 1")
    assert next(iter(lines.of(pitch(1, "mound-b")))).startswith("mound-b: Pitch 1")
    evil = PitchRecord("m", "s", 1, "\x1b[2J\x07P", None, None, {}, None, {})
    assert not {"\x1b", "\x07"} & set("".join(lines.of(Pitch(evil, pitch(1).traces))))
    movement = NotCountedRecord("m", "s", NotCountedReason.STEP_OFF, 1.0, "\x1b[31mred")
    assert "\x1b" not in "".join(lines.of(NotCounted(movement)))
    assert list(lines.of(PitchChanged(record(1, note="a note")))) == [], "no new ball speed"
