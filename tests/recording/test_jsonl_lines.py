"""JSON Lines against full disks, pipes and unfinished lines."""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from stream.outputs import (
    Fault,
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Output,
    PitchChanged,
    PitchClosed,
    PitchRecord,
)
from stream.sinks import jsonl
from stream.sinks.jsonl import JsonLinesSink, LineFile
from tests.recording.disks import DISKS, FullDisk


@pytest.fixture(params=DISKS)
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FullDisk]:
    with request.param(tmp_path) as made:
        yield made


def line(number: int) -> bytes:
    return json.dumps({"number": number, "filler": "x" * 3000}).encode()


def numbers(path: Path) -> list[int]:
    return [json.loads(text)["number"] for text in path.read_text().splitlines()]


def test_full_disk_and_space_again(disk: FullDisk) -> None:
    path = disk.folder / "out.jsonl"
    lines = LineFile(path)
    lines.append(line(1))
    disk.fill(path)
    count = 1
    while lines.trouble is None:
        count += 1
        lines.append(line(count))
    assert disk.says in lines.trouble
    assert numbers(path) == list(range(1, count)), "no half line is ever in the file"
    assert not lines.retry()
    disk.free()
    assert lines.retry()
    assert lines.trouble is None
    lines.append(line(count + 1))
    assert lines.close()
    assert numbers(path) == list(range(1, count + 2))


def test_a_disk_full_for_ever_costs_bounded_memory(
    disk: FullDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jsonl, "MAX_WAITING", 5)
    path = disk.folder / "out.jsonl"
    lines = LineFile(path)
    lines.append(line(0))
    disk.fill(path)
    count = 0
    while lines.lost < 3:
        count += 1
        lines.append(line(count))
    disk.free()
    assert not lines.close(), "what was given up is told"
    assert numbers(path) == list(range(count - 2))


def test_only_what_closes_is_written(tmp_path: Path) -> None:
    record = PitchRecord("m", "s", 1, "P01", "R", 10.0, {}, 900.0, {})
    movement = NotCountedRecord("m", "s", NotCountedReason.STEP_OFF, 5.0, "stepped off")
    outputs: list[Output] = [
        PitchChanged(record),
        Fault("m", "stall", "stalled"),
        NotCounted(movement),
        PitchClosed(record),
    ]
    sink = JsonLinesSink(LineFile(tmp_path / "out.jsonl"))
    sink.take(outputs)
    assert sink.pitches == 1
    # On the disk already, before anything is closed.
    first, second = map(json.loads, (tmp_path / "out.jsonl").read_text().splitlines())
    assert first["not_counted"] == "step_off"
    assert second["number"] == 1
    assert sink.lines.close()


def test_a_line_is_synced_before_the_next_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fdatasync", lambda fd: synced.append(os.fstat(fd).st_size))
    folders: list[Path] = []
    monkeypatch.setattr(jsonl, "sync_folder", folders.append)
    path = tmp_path / "log.jsonl"
    lines = LineFile(path)
    assert folders == [tmp_path], "its name must outlive a power cut too"
    for number in range(3):
        lines.append(line(number))
        assert len(synced) == number + 1
        assert synced[-1] == path.stat().st_size
    assert lines.close()


def test_a_line_that_cannot_be_synced_is_taken_back_and_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.jsonl"
    lines = LineFile(path)
    with monkeypatch.context() as broken:

        def refuse(fd: int) -> None:
            raise OSError(errno.EIO, "input/output error")

        broken.setattr(os, "fdatasync", refuse)
        lines.append(line(1))
        assert lines.trouble is not None
        assert path.read_bytes() == b""
    assert lines.retry()
    assert numbers(path) == [1]
    assert lines.close()


def test_old_lines_stay_unless_a_fresh_file_is_wanted(tmp_path: Path) -> None:
    path = tmp_path / "out.jsonl"
    path.write_bytes(line(1) + b"\n" + line(2)[:20])
    with LineFile(path) as lines:
        lines.append(line(3))
    assert path.read_bytes() == line(1) + b"\n" + line(2)[:20] + b"\n" + line(3) + b"\n"
    with LineFile(path, fresh=True) as lines:
        lines.append(line(4))
    assert numbers(path) == [4]


@pytest.mark.fault(
    "a file of lines is deleted while it is written",
    "it is said that lines are missing; the next ones are in a new file; nothing ends",
)
def test_a_file_that_is_deleted_is_begun_anew_and_it_is_said(tmp_path: Path) -> None:
    path = tmp_path / "session" / "out.jsonl"
    path.parent.mkdir()
    lines = LineFile(path)
    lines.append(line(1))
    path.unlink()
    lines.append(line(2))
    assert numbers(path) == [2]
    assert lines.trouble is not None
    assert "out.jsonl has been deleted or cut: its earlier lines are missing" in lines.trouble
    shutil.rmtree(path.parent)
    lines.append(line(3))
    assert lines.trouble is not None
    assert lines.trouble.startswith("Its folder is gone")
    path.parent.mkdir()
    assert lines.retry()
    assert numbers(path) == [3]
    assert not lines.close(), "it does not claim to have everything"


def test_a_file_that_an_editor_saved_anew_is_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "out.jsonl"
    lines = LineFile(path)
    lines.append(line(1))
    (tmp_path / "draft").write_bytes(path.read_bytes())
    (tmp_path / "draft").replace(path)
    lines.append(line(2))
    assert lines.trouble is None
    assert lines.close()
    assert numbers(path) == [1, 2]


def test_a_pipe_is_written_too(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    with LineFile(path) as lines:
        lines.append(b"a")
        assert os.read(reader, 100) == b"a\n"
    os.close(reader)
