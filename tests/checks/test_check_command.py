"""``moundfeed check``: on recordings and live; JSON, exit codes, one clear line on bad input."""

from __future__ import annotations

import asyncio
import json
import time
from pathlib import Path

import pytest
import zmq
import zmq.asyncio

from stream.access.options import ConnectionOptions
from stream.checks.plan import Plan, Step
from stream.checks.registry import NAMES
from stream.checks.verdict import Report, Status
from stream.recording.session import Session
from stream.recording.writer import RecordingWriter
from stream.roster import Roster
from stream.wire import ForceMessage, Packet, encode_force
from tests.checks.bench import SPOT, Bench
from tests.checks.planted import FAULTS
from tui.commands.live_check import LiveCheck
from tui.commands.main import main

FORCE = "moundfeed/mound-a/force"
SPOT_TEXT = f"{SPOT[0]},{SPOT[1]}"


def _record(path: Path, bench: Bench) -> Path:
    writer = RecordingWriter(
        path, layout_text=bench.layout.origin_text, roster_csv="", settings_text=""
    )
    for message, came in bench.messages():
        writer.write(Packet(FORCE, encode_force(message), came), message.t_ns)
    writer.close()
    return path


def _check(*arguments: object) -> int:
    return main(["check", *map(str, arguments)])


def test_a_good_recording_passes_and_gives_every_name(tmp_path: Path) -> None:
    recording = _record(tmp_path / "good.mcap", Bench("two-plates", seed=1))
    out = tmp_path / "check.json"
    code = _check(
        "--from", recording, "--layout", "two-plates", "--json", out, "--mass-kg", 20,
        "--at", SPOT_TEXT,
    )  # fmt: skip
    content = json.loads(out.read_text())
    assert code == 0
    assert content["ok"] is True
    assert tuple(c["check"] for c in content["checks"]) == NAMES
    by_name = {c["check"]: c for c in content["checks"]}
    assert by_name["latency"]["status"] == "not_run"
    assert by_name["rate"]["value"] == pytest.approx(200.0, abs=0.01)
    assert set(by_name["rate"]) >= {"check", "status", "value", "unit", "limit", "say"}


def test_a_faulty_recording_fails_with_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sense = next(f for f in FAULTS if f.name == "sense")
    recording = _record(tmp_path / "bad.mcap", sense.plant(Bench("two-plates", seed=1)))
    assert _check("--from", recording, "--mass-kg", 20, "--at", SPOT_TEXT) == 1
    told = capsys.readouterr()
    assert "set it to action" in told.out
    assert "The set-up check failed: signs." in told.err


def test_without_a_load_what_needs_one_is_not_run(tmp_path: Path) -> None:
    bench = Bench("tiled", seed=1, mass_kg=1e-9)
    out = tmp_path / "check.json"
    recording = _record(tmp_path / "empty.mcap", bench)
    assert _check("--from", recording, "--json", out) == 0
    status = {c["check"]: c["status"] for c in json.loads(out.read_text())["checks"]}
    assert {n for n, s in status.items() if s == "not_run"} == {
        "latency", "signs", "weight", "position",
    }  # fmt: skip


def test_the_result_and_the_zero_are_kept_in_the_session(tmp_path: Path) -> None:
    bench = Bench("two-plates", seed=1)
    recording = _record(tmp_path / "good.mcap", bench)
    folder = tmp_path / "session"
    Session.create(
        folder,
        source="mound-a",
        layout_text=bench.layout.origin_text,
        settings_text="",
        roster=Roster(),
    ).close()
    assert _check("--from", recording, "--session", folder, "--by", "J. D.") == 0
    session = Session.open(folder)
    kept = session.check()
    assert kept is not None
    assert kept["ok"] is True
    assert kept["tare"]["by"] == "J. D."
    zero = next(entry for entry in session.log() if entry["what"] == "zero")
    assert len(zero["tare"]["values"]) == 12


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--layout", "tiled"], "the feed has 12 channels, the layout 'tiled' has 150"),
        (["--layout", "nowhere.toml"], "there is no layout file 'nowhere.toml'"),
        (["--at", "9,9"], "lies beside the deck"),
        (["--source", "mound-b"], "choose one with --source"),
        (["--json", "/nowhere/at/all/x.json"], "there is no folder"),
    ],
)
def test_wrong_use_is_one_line_and_exit_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    recording = _record(tmp_path / "good.mcap", Bench("two-plates", seed=1, seconds=1.0))
    assert _check("--from", recording, *arguments) == 2
    told = capsys.readouterr().err
    assert says in told
    assert told.count("\n") == 1


def test_no_recording_is_exit_code_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _check("--from", tmp_path / "none.mcap", "--layout", "tiled") == 2
    assert capsys.readouterr().err.count("\n") == 1


async def test_a_live_feed_is_guided_through_its_steps_and_judged() -> None:
    """The publisher puts the mass down when it is asked to: nobody waits for a fixed time."""
    bench = Bench("two-plates", seed=2, seconds=1.5)
    rows = bench.channels()
    empty, loaded = rows[:300], rows[-300:]
    context = zmq.asyncio.Context()
    out = context.socket(zmq.PUB)
    port = out.bind_to_random_port("tcp://127.0.0.1")
    plan = Plan(seconds=1.0, mass_kg=20.0, spot=SPOT)
    check = LiveCheck(f"tcp://127.0.0.1:{port}", ConnectionOptions(), bench.layout, plan)
    listening = asyncio.create_task(check.run(30.0))

    async def publish() -> None:
        began, first = time.monotonic(), 0
        while not listening.done():
            source = empty if check.step is Step.EMPTY else loaded
            samples = source[first % 300 : first % 300 + 4].astype("f4")
            stamp = round(first / 200 * 1e9)
            message = ForceMessage("mound-a", "live", first, stamp, 200.0, samples)
            await out.send_multipart([FORCE.encode(), encode_force(message)])
            first += 4
            await asyncio.sleep(max(0.0, began + first / 200 - time.monotonic()))

    try:
        _, report = await asyncio.gather(publish(), listening)
    finally:
        listening.cancel()
        out.close(linger=0)
        context.term()
    assert isinstance(report, Report)
    status = {r.check: r.status for r in report.checks}
    assert status["latency"] is not Status.NOT_RUN
    for name in ("rate", "zero", "signs", "weight", "position"):
        assert status[name] is Status.PASS, name
