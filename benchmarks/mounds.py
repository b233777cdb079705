"""Many mounds through one broker into one monitor, in real seconds.

Every block carries the clock of this computer at its sending, so that its
receive time in the recording tells how late it came.
"""

from __future__ import annotations

import os
import shutil
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from benchmarks.feeds import PROGRAM, answers, percentile, processor_s, running, until
from benchmarks.figures import Figure
from stream.recording.reader import read_recording
from stream.wire import ForceMessage, TopicKind, decode_force, encode_force, topic
from tui.commands.demo import free_port

RATE_HZ, BLOCK = 200.0, 10
_LATE_MS = 50.0


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Measure the monitor with one mound and with many."""
    broker = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if broker is None:
        print("Many mounds are left out: there is no mosquitto on this computer.")
        return
    counts = (1, 8) if quick else (1, 4, 16, 64)
    cost: dict[int, float] = {}
    for count in counts:
        cost[count], delays = _measured(folder, broker, count, 5.0 if quick else 12.0)
        yield Figure(f"{count} mounds through one broker: of one core", cost[count], "%")
        late = sum(delay > _LATE_MS for delay in delays)
        yield Figure(f"{count} mounds: blocks more than 50 ms late", late, "", 0)
        yield Figure(f"{count} mounds: delay, p99.9", percentile(delays, 0.999), "ms")
    last = counts[-1]
    yield Figure(
        f"Cost of a mound among {last}, times that of one alone",
        cost[last] / last / cost[1],
        "x",
        1.1,
    )


def _measured(folder: Path, broker: str, count: int, seconds: float) -> tuple[float, list[float]]:
    """Return the monitor's share of a core (%) and each block's delay (ms)."""
    port = free_port()
    config = folder / "broker.conf"
    user = "user root\n" if os.geteuid() == 0 else ""
    # As in configs/mosquitto-example.conf: else messages wait 40 ms for an acknowledgement.
    quick_way = "set_tcp_nodelay true\nmax_inflight_messages 1000\n"
    config.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\n{quick_way}{user}")
    url, file = f"mqtt://127.0.0.1:{port}", folder / f"mounds-{count}.mcap"
    monitor = [*PROGRAM, "log", "--from", url, "--layout", "two-plates",
               "--record", str(file), "--publish", url]  # fmt: skip
    with running([broker, "-c", str(config)]):
        until(lambda: answers(port), "the broker")
        with running(monitor) as process:
            share = _send(port, count, seconds, process.pid, file)
    delays = []
    for packet in read_recording(file).packets():
        if packet.topic.endswith("/force"):
            delays.append((packet.received_ns - decode_force(packet.payload).t_ns) / 1e6)
    return share, delays[count * 20 :]  # the first second is the cores' making


def _send(port: int, count: int, seconds: float, pid: int, file: Path) -> float:
    """Send every mound's blocks in turn, evenly spread; return the monitor's share of a core, %."""
    blocks = np.random.default_rng(1).normal(0.0, 1.0, (BLOCK, 12)).astype(np.float32)
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    sock = client.socket()
    assert isinstance(sock, socket.socket)
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    until(file.exists, "the monitor's recording")
    time.sleep(1.0)
    spent = begin = 0.0
    start, turns = time.monotonic(), round((seconds + 1.0) * RATE_HZ / BLOCK)
    for turn in range(turns):
        if turn == round(RATE_HZ / BLOCK):
            spent, begin = processor_s(pid), time.monotonic()
        for mound in range(count):
            due = start + (turn + mound / count) * BLOCK / RATE_HZ
            time.sleep(max(0.0, due - time.monotonic()))
            name = f"mound-{mound:02d}"
            message = ForceMessage(name, "bench", turn * BLOCK, time.time_ns(), RATE_HZ, blocks)
            client.publish(topic(name, TopicKind.FORCE), encode_force(message), 0)
        client.loop_misc()
    client.disconnect()
    return 100.0 * (processor_s(pid) - spent) / (time.monotonic() - begin)
