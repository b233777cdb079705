"""Several workers: the same results however many, also when one is killed (invented data)."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import LocalCluster

from analysis.recompute.cluster import local_processes, on_workers
from analysis.recompute.job import Job
from tests.monitor.programs import MOUNDFEED
from tests.recompute.stored import copied, files_of
from tests.transport.waiting import eventually_now
from tui.commands.main import main


@pytest.fixture
def cluster() -> Iterator[Any]:
    """A scheduler and two worker processes, such as --scheduler meets."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as made:
        yield made


def results(folders: list[Path]) -> list[bytes]:
    return [files_of(folder)["results/low/pitches.jsonl"] for folder in folders]


def test_a_killed_workers_work_is_done_again(
    sessions: list[Path], low: Path, tmp_path: Path, cluster: Any
) -> None:
    """kill -9 to a worker in the middle of its session: the results are those of one process."""
    many = [s for n in range(3) for s in _renamed(sessions, tmp_path / f"copy-{n}")]
    alone = _renamed(sessions, tmp_path / "alone")
    words = ["--settings", str(low)]
    assert main(["recompute", *map(str, alone), *words, "--workers", "0"]) == 0

    codes: list[int] = []
    address = cluster.scheduler_address
    command = ["recompute", *map(str, many), *words, "--scheduler", address]
    runs = threading.Thread(target=lambda: codes.append(main(command)))
    runs.start()
    killed = _kill_a_busy_worker(cluster)
    runs.join(120)
    assert codes == [0]
    assert results(many) == results(alone) * 3
    eventually_now(lambda: killed not in _workers(cluster), "another process took its place")


def test_a_session_that_kills_its_workers_is_named_and_the_others_are_measured(
    sessions: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Deadly:
        """A folder that ends whichever process opens it, as one that takes all memory would."""

        def __truediv__(self, name: str) -> Path:
            os._exit(9)

    monkeypatch.setattr("analysis.recompute.cluster.DEATHS", 0)
    deadly: Any = Deadly()
    jobs = [Job(folder) for folder in (sessions[0], deadly, *sessions[1:])]
    shares: list[float] = []
    with local_processes(1) as client:
        outcomes = list(on_workers(client, jobs, shares.append))
    named = [o for o in outcomes if o.trouble]
    assert len(named) == 1
    assert named[0].folder is deadly
    assert "one worker after the other died" in str(named[0].trouble)
    measured = [o for o in outcomes if not o.trouble]
    assert sorted(o.folder for o in measured) == sessions
    assert all(o.pitches and len(o.pitches.records) == 2 for o in measured)
    assert shares == [0.25, 0.5, 0.75, 1.0]


def _kill_a_busy_worker(cluster: Any) -> int:
    """Send SIGKILL to a worker that has a session in hand; return its process id."""
    busy: list[int] = []

    def found() -> bool:
        at_work = {w.address for w in cluster.scheduler.workers.values() if w.processing}
        busy[:] = [n.pid for n in cluster.workers.values() if n.worker_address in at_work]
        return bool(busy)

    eventually_now(found, "a worker is measuring")
    os.kill(busy[0], signal.SIGKILL)
    return busy[0]


def _workers(cluster: Any) -> list[int]:
    return [nanny.pid for nanny in cluster.workers.values()]


def _renamed(sessions: list[Path], folder: Path) -> list[Path]:
    folder.mkdir()
    return copied(sessions, folder)


def test_processes_of_its_own_and_an_interrupt(
    sessions: list[Path], low: Path, tmp_path: Path
) -> None:
    """Ctrl-C ends it and its workers; what is done stays whole, and the next run goes on."""
    many = [s for n in range(4) for s in _renamed(sessions, tmp_path / f"copy-{n}")]
    command = [*MOUNDFEED, "recompute", *map(str, many), "--settings", str(low), "--workers", "2"]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,  # else lines read ahead with the first one are lost to communicate()
        start_new_session=True,
        cwd=Path(__file__).parents[2],
    )
    try:
        assert process.stdout is not None
        assert "kept as results/low" in process.stdout.readline().decode()
        # As a terminal does: to the command and its workers alike.
        os.killpg(process.pid, signal.SIGINT)
        out, err = (told.decode() for told in process.communicate(timeout=60))
    finally:
        process.kill()
    assert process.returncode == 1
    assert err.startswith("moundfeed: stopped; "), err
    assert len(err.splitlines()) == 1
    eventually_now(lambda: not _group(process.pid), "its workers have ended")
    kept = [s for s in many if (s / "results/low/pitches.jsonl").exists()]
    assert 1 <= len(kept) < len(many)
    assert len(kept) == 1 + out.count("kept as results/low")
    assert main(["recompute", *map(str, many), "--settings", str(low), "--workers", "0"]) == 0
    assert results(many) == results(many[:3]) * 4


def _group(leader: int) -> list[str]:
    """Return the processes of a process group that still run."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            _, _, rest = stat.read_text().rpartition(")")
        except OSError:
            continue  # it has just ended
        state, _, group, *_ = rest.split()
        if int(group) == leader and state != "Z":
            found.append(stat.parent.name)
    return found


def test_local_workers_let_nobody_else_in() -> None:
    """Who reaches a worker can make it run anything: keys of this run, and the loopback alone."""
    with local_processes(1) as client:
        address = client.scheduler.address
        assert address.startswith("tls://127.0.0.1:")
        port = int(address.rpartition(":")[2])
        trusting = ssl.create_default_context()
        trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
        with (
            socket.create_connection(("127.0.0.1", port), 10) as plain,
            pytest.raises((ssl.SSLError, ConnectionError)),
            trusting.wrap_socket(plain) as stranger,
        ):
            stranger.recv(1)  # a server that let him in would wait for his word: TimeoutError
        assert client.submit(sum, [1, 2]).result() == 3, "its own client is served"


def test_a_scheduler_that_is_not_there(
    sessions: list[Path], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("analysis.recompute.cluster.CONNECT_S", 0.5)
    address = "tcp://127.0.0.1:9"
    assert main(["recompute", str(sessions[0]), "--scheduler", address]) == 1
    err = capsys.readouterr().err
    assert f"the scheduler at {address} does not answer" in err
    assert len(err.splitlines()) == 1
