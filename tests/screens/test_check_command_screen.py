"""``moundfeed check`` on a terminal: device, monitor and screen as real processes."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from stream.monitor.presence import find, runtime_folder
from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.screens.hand_device import HandDevice
from tests.screens.pseudo_terminal import DEADLINE_S, own_runtime, terminal

__all__ = ["own_runtime"]
pytestmark = pytest.mark.usefixtures("own_runtime")
SPOT = (1.8, 0.3)


def test_a_check_before_the_first_pitch_begins_the_session(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    with HandDevice() as device, terminal(
        "check", "--from", device.url, "--layout", "two-plates", "--session", str(folder),
        "--mass-kg", "20", "--at=1.8,0.3", "--by", "J. D.", "--seconds", "2",
    ) as term:  # fmt: skip
        term.until("step 2 of 3")
        device.bear(20.0, SPOT)
        term.until("step 3 of 3")
        device.bear(82.0, (0.0, 0.0))
        term.until("Done:")
        term.press("\x1b")
        code = term.ended()
    assert find(runtime_folder(folder)) is None
    session = Session.open(folder)
    kept = session.check()
    assert kept is not None
    # A busy computer makes the feed late; what the device sends does not depend on that.
    status = {c["check"]: c["status"] for c in kept["checks"]}
    for name in ("continuity", "zero", "noise", "stuck", "signs", "weight", "position"):
        assert status[name] == "pass", name
    assert code == (0 if kept["ok"] else 1)
    assert "checks were run" in term.seen or "The set-up check failed" in term.seen
    assert kept["tare"]["by"] == "J. D."
    assert kept["body_weight_n"] == pytest.approx(82.0 * 9.80665, rel=0.003)
    taken = [entry["tare"] for entry in session.log() if "tare" in entry]
    assert taken == [kept["tare"]]


def test_the_next_run_begins_with_the_zero_of_the_check(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    with HandDevice() as device:
        words = ["check", "--from", device.url, "--layout", "two-plates", "--session", str(folder)]
        with terminal(*words, "--mass-kg", "20", "--seconds", "2") as term:
            term.until("step 2 of 3")
            term.press("s")
            term.until("step 3 of 3")
            term.press("s")
            term.until("Done:")
            term.press("\x1b")
            term.ended()
        with terminal("watch", "--from", device.url, "--session", str(folder)) as term:
            term.until("FEED LIVE")
            term.press("q")
            term.until("Leave the screen")
            term.press("e")
            term.ended()
    session = Session.open(folder)
    kept = session.check()
    assert kept is not None
    begun = [
        json.loads(read_recording(path).metadata["session"]["tare"])
        for path in session.recordings()
    ]
    assert begun == [None, kept["tare"]["values"]]


def test_a_folder_that_is_no_session_is_refused_before_anybody_steps_off(
    tmp_path: Path,
) -> None:
    (tmp_path / "holiday").mkdir()
    (tmp_path / "holiday" / "photo.txt").write_text("x")
    words = ["check", "--from", "tcp://127.0.0.1:9", "--layout", "two-plates", "--plain"]
    with terminal(*words, "--session", str(tmp_path / "holiday")) as term:
        assert term.ended() == 2
    assert "not empty and not a session" in term.seen
    assert "Step 1" not in term.seen


def test_a_terminal_that_is_gone_leaves_nothing_running(tmp_path: Path) -> None:
    folder = tmp_path / "tuesday"
    with HandDevice() as device:
        words = ["check", "--from", device.url, "--layout", "two-plates", "--session", str(folder)]
        with terminal(*words, "--mass-kg", "20") as term:
            term.until("FEED LIVE")
            term.hang_up()
            term.process.wait(DEADLINE_S)
        end = time.monotonic() + DEADLINE_S
        while find(runtime_folder(folder)) is not None:
            assert time.monotonic() < end
            time.sleep(0.05)
