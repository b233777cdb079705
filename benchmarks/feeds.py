"""Simulated recordings and processes that the benchmarks run on. Everything in them is invented."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

PROGRAM = [sys.executable, "-m", "tui.commands.main"]
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def simulated(path: Path, *options: str) -> Path:
    """Make a recording with ``moundfeed simulate``; ``path`` is what it is called."""
    command = [*PROGRAM, "simulate", "--to", str(path), *options]
    subprocess.run(command, check=True, capture_output=True)
    return path


@contextmanager
def running(command: list[str]) -> Iterator[subprocess.Popen[bytes]]:
    """Run a command in the background and end it on the way out."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def processor_s(pid: int) -> float:
    """Return the processor time (s) that a process has had, user and system."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS_PER_S


def cost_of(arguments: list[str], folder: Path) -> tuple[float, float]:
    """Run one command in ``folder``; return processor time (s) and greatest memory (MB)."""
    process = subprocess.Popen(
        [*PROGRAM, *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    # Not the maximum that wait4 gives: it counts what this process held when it forked.
    peak_kb, ended = 0, 0
    while not ended:
        peak_kb = max(peak_kb, _most_held_kb(process.pid))
        time.sleep(0.02)
        ended, status, used = os.wait4(process.pid, os.WNOHANG)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"moundfeed {arguments[0]} failed")
    return used.ru_utime + used.ru_stime, peak_kb / 1024


def _most_held_kb(pid: int) -> int:
    """Return the most memory that a process has held so far; 0 where it has just ended."""
    status = Path(f"/proc/{pid}/status").read_text()
    return next((int(v.split()[1]) for v in status.splitlines() if v.startswith("VmHWM")), 0)


def share_of_a_core(pid: int, seconds: float) -> float:
    """Watch a process for ``seconds``; return the share of one core that it took, %."""
    before, begin = processor_s(pid), time.monotonic()
    time.sleep(seconds)
    return 100.0 * (processor_s(pid) - before) / (time.monotonic() - begin)


def until(condition: Callable[[], bool], what: str, seconds: float = 120.0) -> None:
    """Wait for ``condition``; raise SystemExit if it does not come."""
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise SystemExit(f"waited in vain: {what}")
        time.sleep(0.05)


def answers(port: int) -> bool:
    """Return whether something listens on a port of this computer."""
    try:
        socket.create_connection(("127.0.0.1", port), 1).close()
    except OSError:
        return False
    return True


def percentile(values: list[float], share: float) -> float:
    """Return the value that ``share`` (0 to 1) of ``values`` do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
