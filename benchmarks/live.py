"""What a live mound costs: device, monitor and screen as processes of their own, in real seconds.

The monitor records, measures and publishes. A message's delay is its receive
time in the recording against the device's clock, beyond the quickest message;
the device's own unpunctuality is in it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from benchmarks.feeds import PROGRAM, percentile, running, share_of_a_core, simulated, until
from benchmarks.figures import Figure
from benchmarks.soak import ended, screen
from stream.monitor.presence import runtime_folder
from stream.monitor.process import stop_monitor
from stream.recording.reader import read_recording
from stream.wire import decode_force
from tui.commands.demo import free_port

_SETTLE_S = 3.0


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Measure one mound without a screen, then with a large one and a long table."""
    seconds = 8.0 if quick else 25.0
    for block, goal in ((10, 3.0), (1, 12.0)):
        share, delays = _without_screen(folder / f"live-{block}", block, seconds)
        what = f"Live mound, {block}-frame messages, recorded, measured, published"
        yield Figure(f"{what}: of one core", share, "%", goal)
        yield Figure(f"{what}: delay, p99.9", percentile(delays, 0.999), "ms")
    rows = 20 if quick else 200
    share, delays = _with_screen(folder / "screen", rows, seconds)
    what = f"Screen of 200 x 60 with a table of {rows} rows"
    yield Figure(f"{what}: of one core", share, "%", 25.0)
    yield Figure(
        f"{what}: the feed's delay meanwhile, p99.9", percentile(delays, 0.999), "ms", 20.0
    )


def _without_screen(session: Path, block: int, seconds: float) -> tuple[float, list[float]]:
    feed = f"tcp://127.0.0.1:{free_port()}"
    device = [*PROGRAM, "simulate", "--to", feed, "--block", str(block), "--quick"]
    monitor = [*PROGRAM, "log", "--from", feed, "--layout", "two-plates"]
    monitor += ["--session", str(session), "--publish", f"tcp://127.0.0.1:{free_port()}"]
    with running(device), running(monitor) as process:
        until(lambda: _recorded(session) > 0, "a recording")
        share_of_a_core(process.pid, _SETTLE_S)
        share = share_of_a_core(process.pid, seconds)
    return share, _delays_ms(session)


def _with_screen(session: Path, rows: int, seconds: float) -> tuple[float, list[float]]:
    path = simulated(session.with_suffix(".mcap"), "--quick", "--pitches", str(rows))
    with running([*PROGRAM, "replay", str(path), "--session", str(session)]) as process:
        process.wait()
    before = _recorded(session)
    feed = f"tcp://127.0.0.1:{free_port()}"
    device = [*PROGRAM, "simulate", "--to", feed, "--quick", "--seed", "2"]
    with running(device):
        watch, _ = screen(
            [*PROGRAM, "watch", "--from", feed, "--session", str(session)], columns=200, lines=60
        )
        with ended(watch):
            until(lambda: _recorded(session) > before, "a recording")
            share_of_a_core(watch.pid, _SETTLE_S)
            share = share_of_a_core(watch.pid, seconds)
        stop_monitor(runtime_folder(session))  # it outlives its screen, so that nothing is lost
    return share, _delays_ms(session)


def _recorded(session: Path) -> int:
    return sum(path.stat().st_size > 4096 for path in session.glob("recording-*.mcap"))


def _delays_ms(session: Path) -> list[float]:
    newest = max(session.glob("recording-*.mcap"))
    times = [
        (packet.received_ns - decode_force(packet.payload).t_ns) / 1e6
        for packet in read_recording(newest).packets()
        if packet.topic.endswith("/force")
    ]
    least = min(times)
    return [time - least for time in times]
