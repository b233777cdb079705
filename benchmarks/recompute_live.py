"""What many live mounds cost: the monitor and the broker, in processor time for each mound.

    python -m benchmarks.recompute_live [--mounds 1 8 16] [--seconds 20]

One sender plays a simulated bullpen (invented) for every mound, 50 messages a
second each, through a real mosquitto to one `moundfeed log` that records and
measures all of them. Processor time comes from the system's own account of
each process, so that it hardly depends on what else the computer does.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import paho.mqtt.client as mqtt
from msgspec.structs import replace
from paho.mqtt.enums import CallbackAPIVersion

from stream.recording.reader import read_recording
from stream.wire import decode_force, encode_force
from tui.commands.demo import free_port
from tui.commands.main import main as moundfeed

_TICKS = os.sysconf("SC_CLK_TCK")
BLOCK_S = 0.02


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mounds", type=int, nargs="+", default=[1, 8, 16])
    parser.add_argument("--seconds", type=float, default=20.0)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        feed = Path(folder) / "feed.mcap"
        moundfeed(["simulate", "--to", str(feed), "--pitches", "8", "--quick", "--no-traffic"])
        for mounds in arguments.mounds:
            _measure(Path(folder), feed, mounds, arguments.seconds)


def _measure(folder: Path, feed: Path, mounds: int, seconds: float) -> None:
    port = free_port()
    config = folder / "broker.conf"
    config.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nset_tcp_nodelay true\n"
        # The default lets 20 messages of all mounds together wait for their acknowledgement.
        "max_inflight_messages 1000\nmax_queued_messages 100000\n"
        + ("user root\n" if os.geteuid() == 0 else "")
    )
    path = f"{os.environ['PATH']}:/usr/sbin"
    program = shutil.which("mosquitto", path=path) or "mosquitto"
    broker = subprocess.Popen([program, "-c", str(config)], stderr=subprocess.DEVNULL)
    record = folder / f"{mounds}.mcap"
    words = ["log", "--from", f"mqtt://127.0.0.1:{port}", "--layout", "two-plates"]
    command = [sys.executable, "-m", "tui.commands.main", *words, "--record", str(record)]
    time.sleep(1)
    monitor = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert monitor.stderr is not None
    try:
        payloads = _payloads(feed, mounds, seconds + 5)
        client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.max_inflight_messages_set(1000)
        client.connect("127.0.0.1", port)
        client.loop_start()
        while "Connected" not in monitor.stderr.readline():
            assert monitor.poll() is None
        start = time.perf_counter()
        marks = []
        for number in range(len(payloads[0])):
            time.sleep(max(0.0, start + number * BLOCK_S - time.perf_counter()))
            for mound in range(mounds):
                topic = f"moundfeed/m{mound}/force"
                last = client.publish(topic, payloads[mound][number], qos=1)
            if number in (round(4 / BLOCK_S), round((4 + seconds) / BLOCK_S)):
                marks.append((time.perf_counter(), _cpu(monitor.pid), _cpu(broker.pid)))
        (t0, log0, broker0), (t1, log1, broker1) = marks
        last.wait_for_publish(60)
        client.disconnect()
        time.sleep(3)
    finally:
        monitor.send_signal(signal.SIGINT)
        monitor.communicate(timeout=60)
        broker.terminate()
        broker.wait(10)
    share = 100 / (t1 - t0)
    kept = sum(p.topic.endswith("/force") for p in read_recording(record).packets())
    print(
        f"{mounds} mounds: monitor {(log1 - log0) * share:.1f} % of a processor, broker "
        f"{(broker1 - broker0) * share:.1f} %; {kept} of {mounds * len(payloads[0])} messages of "
        f"{len(payloads[0][0])} bytes recorded, {record.stat().st_size / kept:.0f} bytes each",
        flush=True,
    )


def _payloads(feed: Path, mounds: int, seconds: float) -> list[list[bytes]]:
    """The same bullpen for every mound, in four-frame blocks."""
    packets = [p for p in read_recording(feed).packets() if p.topic.endswith("/force")]
    messages = [decode_force(p.payload) for p in packets[: round(seconds / BLOCK_S)]]
    return [
        [encode_force(replace(message, source=f"m{mound}")) for message in messages]
        for mound in range(mounds)
    ]


def _cpu(pid: int) -> float:
    """Seconds of processor that a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


if __name__ == "__main__":
    main()
