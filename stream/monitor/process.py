"""Starts the monitor as a process of its own, which goes on when its screen is gone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from stream.monitor.plan import Plan, encode_plan
from stream.monitor.presence import Presence, find

#: A busy computer takes long to load the libraries.
_START_S = 60.0
_STOP_S = 20.0
_LOOK_S = 0.02
_LOG = "monitor.log"


class MonitorError(Exception):
    """The monitor could not be started or stopped; the text says why."""


def start_monitor(plan: Plan, runtime: Path) -> Presence:
    """Start a monitor for ``plan`` and return when it can be watched; raise MonitorError.

    It has its own session, so that neither the end of the screen nor of the
    terminal reaches it. What it says on its way down is in ``monitor.log``.
    """
    if (running := find(runtime)) is not None:
        raise MonitorError(f"a monitor is already running here (process {running.pid})")
    log = os.open(runtime / _LOG, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "stream.monitor", str(runtime)],
            stdin=subprocess.PIPE,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    finally:
        os.close(log)
    assert process.stdin is not None
    process.stdin.write(encode_plan(plan))
    process.stdin.close()
    deadline = time.monotonic() + _START_S
    while time.monotonic() < deadline:
        presence = find(runtime)
        if presence is not None and presence.pid == process.pid:
            return presence
        if process.poll() is not None:
            raise MonitorError(f"the monitor did not start: {_last_line(runtime)}")
        time.sleep(_LOOK_S)
    process.kill()
    raise MonitorError(f"the monitor did not start within {_START_S:.0f} s")


def stop_monitor(runtime: Path) -> bool:
    """End the monitor of ``runtime`` in good order; return whether there was one.

    Raise :class:`MonitorError` if it does not end.
    """
    presence = find(runtime)
    if presence is None:
        return False
    os.kill(presence.pid, signal.SIGTERM)
    deadline = time.monotonic() + _STOP_S
    while time.monotonic() < deadline:
        if find(runtime) is None:
            return True
        time.sleep(_LOOK_S)
    raise MonitorError(
        f"the monitor (process {presence.pid}) does not end; what it has recorded is safe"
    )


def _last_line(runtime: Path) -> str:
    lines = (runtime / _LOG).read_text(errors="replace").split("\n")
    return next((line for line in reversed(lines) if line.strip()), "it said nothing")
