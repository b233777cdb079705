"""The two devices of docs/connect-a-device.md, run as they stand there against `moundfeed log`."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import msgspec
import pytest
import zmq

from stream.recording.reader import read_recording
from stream.wire import decode_force, decode_speed
from tests.monitor.programs import end_all, start
from tests.transport.mosquitto import Mosquitto, make_broker
from tests.transport.waiting import free_port

__all__ = ["make_broker"]

PAGE = (Path(__file__).parents[2] / "docs/connect-a-device.md").read_text("utf-8")
BLOCKS = re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL)
ZEROMQ, MQTT, SPEED = BLOCKS
#: Two programs start, each with its imports: on a busy computer that takes long.
WAIT_S = 60


@pytest.fixture(autouse=True)
def _nothing_left_running() -> Iterator[None]:
    yield
    end_all()


def elsewhere(program: str, old: str, new: str) -> str:
    """Return the program with its address changed and nothing else."""
    assert program.count(old) == 1, old
    return program.replace(old, new)


def heard(program: str, feed: str, folder: Path) -> tuple[dict[str, Any], Path]:
    """Run device and monitor; return the first health with a second of feed, and the recording."""
    file, results = folder / "r.mcap", f"tcp://127.0.0.1:{free_port()}"
    (folder / "device.py").write_text(program)
    device = subprocess.Popen([sys.executable, str(folder / "device.py")], stderr=subprocess.PIPE)
    log = start(
        "log", "--from", feed, "--layout", "two-plates", "--record", file, "--publish", results
    )
    try:
        with zmq.Context() as context, context.socket(zmq.SUB) as socket:
            socket.linger = 0
            socket.subscribe("moundfeed/mound-a/health")
            socket.connect(results)
            while True:
                assert socket.poll(WAIT_S * 1000), (log.poll(), device.poll())
                health: dict[str, Any] = json.loads(socket.recv_multipart()[1])
                if health["feed"]["frames"] > 200 and health["feed"]["rate_hz"]:
                    break
        log.send_signal(signal.SIGINT)
        _, err = log.communicate(timeout=30)
        assert log.returncode == 0, err
        assert "Connected" in err
        assert device.poll() is None, "the device is still running"
    finally:
        device.kill()
        device.communicate()
    return health, file


def check(health: dict[str, Any], recording: Path) -> None:
    feed = health["feed"]
    assert (feed["state"], feed["channels"], feed["nominal_rate_hz"]) == ("live", 12, 200.0)
    assert (feed["lost_frames"], feed["rejected"], feed["restarts"]) == (0, {}, 0)
    packets = list(read_recording(recording).packets())
    blocks = [decode_force(p.payload) for p in packets if p.topic == "moundfeed/mound-a/force"]
    assert {block.samples.shape for block in blocks} == {(4, 12)}
    firsts = [block.first_frame for block in blocks]
    assert firsts == list(range(firsts[0], firsts[0] + 4 * len(firsts), 4))
    # 4 frames at 200 Hz are 20 ms of the device's clock.
    assert all(b.t_ns - a.t_ns == 20_000_000 for a, b in pairwise(blocks))


def test_the_zeromq_device(tmp_path: Path) -> None:
    address = f"tcp://127.0.0.1:{free_port()}"
    check(*heard(elsewhere(ZEROMQ, "tcp://127.0.0.1:5555", address), address, tmp_path))


def test_the_mqtt_device(tmp_path: Path, make_broker: Callable[..., Mosquitto]) -> None:
    broker = make_broker()
    broker.start()
    check(*heard(elsewhere(MQTT, "1883", str(broker.port)), broker.url, tmp_path))


def test_they_are_about_thirty_lines() -> None:
    assert max(ZEROMQ.count("\n"), MQTT.count("\n")) <= 36


def test_the_speed_message() -> None:
    sent: list[list[bytes]] = []

    class Socket:
        send_multipart = sent.append

    exec(SPEED, {"SOURCE": "mound-a", "t_ns": 5, "socket": Socket, "msgspec": msgspec})
    ((topic, payload),) = sent
    assert topic == b"moundfeed/mound-a/speed"
    assert decode_speed(payload).speed_mps == 36.2
