"""Long runs of the whole program, with what each process holds while it runs.

``python -m benchmarks.soak live --seconds 3600 --csv held.csv``
    a simulated device at 200 Hz, the monitor that records, and the screen on a
    pseudo-terminal of 120 x 40, each a process of its own, for real seconds.
``python -m benchmarks.soak day --hours 24 --csv held.csv``
    as many hours of feed through recorder and core, as fast as they go.

Every 10 s (of the day: ten times an hour of feed) each process's memory, open
files, threads and asyncio tasks go to the CSV; at the end the growth since the
warm-up is printed. Exit code 1: more than 5 MB a process, or a file, thread or
task more than before.
"""

from __future__ import annotations

import argparse
import csv
import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from benchmarks.soak_day import run_day
from stream.files import load_layout
from stream.monitor.plan import Plan, encode_plan
from stream.monitor.presence import find, runtime_folder
from tui.commands.demo import free_port

EVERY_S = 10.0
MOST_GROWTH_KB = 5 * 1024
_KEY_EVERY_S = 60.0
_KEYS = ("d", "c", "d", "t", "?", "?", "t")


@dataclass(frozen=True)
class Held:
    """What one process holds at one moment."""

    t_s: float
    process: str
    rss_kb: int
    own_kb: int
    files: int
    sockets: int
    threads: int
    tasks: int
    objects: int


def held(t_s: float, name: str, pid: int, probe: Path | None = None) -> Held:
    """Return what process ``pid`` holds; raise OSError if it is gone."""
    proc = Path(f"/proc/{pid}")
    lines = (proc / "status").read_text().splitlines()
    status = {key: rest.split() for key, _, rest in (line.partition(":") for line in lines)}
    links = []
    for entry in (proc / "fd").iterdir():
        try:
            links.append(str(entry.readlink()))
        except FileNotFoundError:  # closed while we looked
            continue
    counts = probe.read_text().split() if probe is not None and probe.exists() else []
    tasks, objects = (int(count) for count in counts) if len(counts) == 2 else (0, 0)
    return Held(
        t_s=round(t_s, 1),
        process=name,
        rss_kb=int(status["VmRSS"][0]),
        own_kb=int(status["RssAnon"][0]),
        files=len(links),
        sockets=sum(link.startswith("socket:") for link in links),
        threads=int(status["Threads"][0]),
        tasks=tasks,
        objects=objects,
    )


class Notes:
    """The CSV, and what it says at the end."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("w", newline="")
        self._csv = csv.DictWriter(self._file, [field.name for field in fields(Held)])
        self._csv.writeheader()
        self._rows: list[Held] = []

    def add(self, row: Held) -> None:
        """Keep one row."""
        self._rows.append(row)
        self._csv.writerow(asdict(row))
        self._file.flush()

    def verdict(self, warm_up_s: float) -> int:
        """Print the growth of each process since the warm-up; return the exit code."""
        bad = 0
        for name in dict.fromkeys(row.process for row in self._rows):
            rows = [row for row in self._rows if row.process == name and row.t_s >= warm_up_s]
            if len(rows) < 2:
                print(f"{name}: too short to judge")
                return 1
            edge = max(1, len(rows) // 10)

            def grown(what: str, rows: list[Held] = rows, edge: int = edge) -> int:
                first = sorted(getattr(row, what) for row in rows[:edge])[edge // 2]
                last = sorted(getattr(row, what) for row in rows[-edge:])[edge // 2]
                return int(last - first)

            memory = grown("own_kb")
            more = {what: grown(what) for what in ("files", "sockets", "threads")}
            # A dialog or another screen has tasks of its own while it is shown.
            more["tasks"] = max(row.tasks for row in rows[-edge:]) - max(r.tasks for r in rows)
            bad |= memory > MOST_GROWTH_KB or any(count > 0 for count in more.values())
            print(
                f"{name}: memory {memory / 1024:+.2f} MB "
                f"({rows[0].rss_kb / 1024:.0f} MB resident at first), "
                + ", ".join(f"{what} {count:+d}" for what, count in more.items())
                + f", in {rows[-1].t_s - rows[0].t_s:.0f} s after the warm-up"
            )
        return int(bad)


def probed(file: Path, module: str, *arguments: str) -> list[str]:
    """Return the command of a module that runs under the probe."""
    return [sys.executable, "-m", "benchmarks.soak_probe", str(file), module, *arguments]


@contextmanager
def ended(process: subprocess.Popen[bytes]) -> Iterator[subprocess.Popen[bytes]]:
    """End ``process`` on the way out."""
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def screen(command: list[str], columns: int = 120, lines: int = 40) -> tuple[
    subprocess.Popen[bytes], Callable[[str], object]
]:  # fmt: skip
    """Start a command on a pseudo-terminal that is read; return it and how to press a key."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color"}
    environment |= {"COLUMNS": str(columns), "LINES": str(lines)}
    process = subprocess.Popen(
        command, stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True
    )
    os.close(slave)

    def read() -> None:
        try:
            while os.read(master, 65536):
                pass
        except OSError:  # the program has closed its end
            pass

    threading.Thread(target=read, daemon=True).start()
    return process, lambda key: os.write(master, key.encode())


def live(options: argparse.Namespace) -> int:
    """Run device, monitor and screen for real seconds."""
    layout = load_layout(options.layout)
    feed = f"tcp://127.0.0.1:{free_port()}"
    notes = Notes(options.csv)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="soak-")))
        os.environ["XDG_RUNTIME_DIR"] = str(folder)
        session = folder / "session"
        runtime = runtime_folder(session)
        pitches = round(options.seconds / 25.0) + 4
        command = probed(folder / "device", "tui.commands.main", "simulate", "--to", feed)
        command += ["--layout", options.layout, "--pitches", str(pitches), "--pitchers", "2"]
        device = stack.enter_context(ended(subprocess.Popen(command)))
        plan = Plan(feed=feed, layout=layout.origin_text, session=str(session))
        monitor = stack.enter_context(
            ended(
                subprocess.Popen(
                    probed(folder / "monitor", "stream.monitor", str(runtime)),
                    stdin=subprocess.PIPE,
                )
            )
        )
        assert monitor.stdin is not None
        monitor.stdin.write(encode_plan(plan))
        monitor.stdin.close()
        _until(lambda: find(runtime) is not None and (session / "layout.toml").exists())
        watch, press = screen(
            probed(folder / "screen", "tui.commands.main", "watch", "--session", str(session))
        )
        stack.enter_context(ended(watch))
        processes = {"device": device, "monitor": monitor, "screen": watch}
        start, pressed = time.monotonic(), 0
        while (now := time.monotonic() - start) < options.seconds:
            for name, process in processes.items():
                if process.poll() is not None:
                    print(f"{name} has ended with {process.returncode}")
                    return 1
                notes.add(held(now, name, process.pid, folder / name))
            if now > (pressed + 1) * _KEY_EVERY_S:
                press(_KEYS[pressed % len(_KEYS)])
                pressed += 1
            time.sleep(EVERY_S)
        lines = (session / "pitches.jsonl").read_text().splitlines()
        counted = sum('"not_counted"' not in line for line in lines)
        print(f"{counted} pitches and {len(lines) - counted} other movements recorded")
    return notes.verdict(options.warm_up)


def day(options: argparse.Namespace) -> int:
    """Run hours of feed through recorder and core, as fast as they go."""
    notes = Notes(options.csv)
    with tempfile.TemporaryDirectory(prefix="soak-") as folder:
        for hour, told in run_day(options.layout, options.hours, Path(folder)):
            notes.add(held(3600.0 * hour, "recorder and core", os.getpid()))
            if told:
                print(told, flush=True)
    return notes.verdict(options.warm_up)


def _until(condition: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise SystemExit("the monitor or the device did not begin")
        time.sleep(0.1)


def main() -> int:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--layout", default="two-plates")
    parser.add_argument("--csv", type=Path, default=Path("soak.csv"))
    runs = parser.add_subparsers(required=True)
    real = runs.add_parser("live", help="device, monitor and screen for real seconds")
    real.add_argument("--seconds", type=float, default=3600.0)
    # By then every screen has been shown once: the keys take seven minutes.
    real.add_argument("--warm-up", type=float, default=600.0, help="s (600)")
    real.set_defaults(run=live)
    quick = runs.add_parser("day", help="hours of feed through recorder and core, sped up")
    quick.add_argument("--hours", type=float, default=24.0)
    quick.add_argument("--warm-up", type=float, default=3600.0, help="s of feed (3600)")
    quick.set_defaults(run=day)
    options = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # and end what it has started
    code: int = options.run(options)
    return code


if __name__ == "__main__":
    raise SystemExit(main())
