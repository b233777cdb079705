"""Whatever becomes of the bytes: never a crash, never a wrong sample, and what is gone is said."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from stream.recording import plain
from stream.recording.head import RecordingError
from stream.recording.plain import PlainWriter
from stream.recording.reader import Recording, read_recording
from stream.wire import Packet
from tests.recording.feed import assert_true_samples, packets

SENT = packets(36)
PER_CHUNK = 6
METADATA = {"layout": {"toml": "name = 'x'\n"}, "settings": {"toml": "filter_hz = 20.0\n"}}


@pytest.fixture
def whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """A small recording of six chunks."""
    monkeypatch.setattr(plain, "CHUNK_BYTES", PER_CHUNK * (31 + len(SENT[0].payload)) - 20)
    path = tmp_path / "whole.mcap"
    layout, settings = METADATA["layout"]["toml"], METADATA["settings"]["toml"]
    with PlainWriter(path, layout_text=layout, settings_text=settings) as writer:
        for packet in SENT:
            writer.write(packet)
    return path.read_bytes()


def read(path: Path, data: bytes) -> tuple[Recording, list[Packet]]:
    # In place: making a file empty first costs a journal commit each time.
    with path.open("r+b" if path.exists() else "wb") as file:
        file.write(data)
        file.truncate()
    recording = read_recording(path)
    return recording, list(recording.packets())


def assert_nothing_wrong(recording: Recording, got: list[Packet]) -> None:
    assert_true_samples(got, SENT)
    for name, content in recording.metadata.items():
        assert METADATA[name] == content


@pytest.mark.fault(
    "power is lost at any byte of the recording",
    "what was finished before is read, and it is said that the end is missing",
)
def test_cut_off_at_every_byte(
    tmp_path: Path, whole: bytes, measured: Callable[[str], None]
) -> None:
    path = tmp_path / "cut.mcap"
    seen = set()
    for size in range(1, len(whole)):
        recording, got = read(path, whole[:size])
        assert_nothing_wrong(recording, got)
        assert got == SENT[: len(got)]
        assert recording.truncated
        seen.add(len(got))
    # No more is lost than the chunk that was being written.
    assert seen == set(range(0, 37, PER_CHUNK))
    measured(f"cut at each of {len(whole) - 1} bytes: never more lost than the last open chunk")


def test_uncut_is_whole(tmp_path: Path, whole: bytes) -> None:
    recording, got = read(tmp_path / "whole2.mcap", whole)
    assert got == SENT
    assert recording.metadata == METADATA
    assert not recording.truncated
    assert recording.report.sentences() == []


@pytest.mark.fault(
    "a bit of the recording flips on the disk",
    "it is noticed by its checksum; at most its own chunk is lost",
)
def test_every_flipped_bit_costs_at_most_its_own_chunk(
    tmp_path: Path, whole: bytes, measured: Callable[[str], None]
) -> None:
    path = tmp_path / "flip.mcap"
    rng = random.Random(1)
    for at in range(len(whole)):
        damaged = bytearray(whole)
        damaged[at] ^= 1 << rng.randrange(8)
        try:
            recording, got = read(path, bytes(damaged))
        except RecordingError:
            assert at < 8
            continue
        assert_nothing_wrong(recording, got)
        assert len(got) >= len(SENT) - PER_CHUNK
        lost = len(got) < len(SENT) or recording.metadata != METADATA
        if lost:
            assert recording.head_damage or recording.report.damage
        # The last chunk has no successor whose running numbers would tell.
        if len(got) < len(SENT) and got[-1] == SENT[-1]:
            assert recording.report.missing == PER_CHUNK
    measured(f"a bit flipped in each of {len(whole)} bytes: none read wrongly")


@pytest.mark.parametrize("seed", range(4))
def test_many_kinds_of_damage_at_once(tmp_path: Path, whole: bytes, seed: int) -> None:
    path = tmp_path / "damaged.mcap"
    rng = random.Random(seed)
    for _ in range(300):
        damaged = bytearray(whole)
        for _ in range(rng.randint(1, 30)):
            at = rng.randrange(len(damaged))
            length = rng.randint(1, 60)
            match rng.randrange(5):
                case 0:
                    damaged[at] ^= 1 << rng.randrange(8)
                case 1:
                    del damaged[at : at + length]
                case 2:
                    damaged[at:at] = rng.randbytes(length)
                case 3:
                    damaged[at : at + length] = bytes(len(damaged[at : at + length]))
                case _:
                    other = rng.randrange(len(damaged))
                    damaged[at : at + length] = damaged[other : other + length]
            if not damaged:
                break
        try:
            recording, got = read(path, bytes(damaged))
        except RecordingError:
            continue
        assert_nothing_wrong(recording, got)


def test_a_chunk_repeated_by_a_bad_copy_is_not_told_twice(tmp_path: Path, whole: bytes) -> None:
    """Blocks of a file copied to the wrong place are intact by their checksums."""
    begin = whole.index(b"\x04\0\0\0zstd") - 37
    end = whole.index(b"\x04\0\0\0zstd", begin + 45) - 37
    _, got = read(tmp_path / "twice.mcap", whole[:end] + whole[begin:end] + whole[end:])
    assert_true_samples(got, SENT)
    assert got == SENT


@pytest.mark.fault(
    "a recording that lies about its sizes",
    "refused in words, without taking memory for it",
)
def test_a_lie_about_size_costs_no_memory(tmp_path: Path, whole: bytes) -> None:
    begin = whole.index(b"\x04\0\0\0zstd") - 37
    lie = bytearray(whole)
    lie[begin + 9 + 16 : begin + 9 + 24] = (2**62).to_bytes(8, "little")
    recording, got = read(tmp_path / "lie.mcap", bytes(lie))
    assert got == SENT[PER_CHUNK:]
    (damage,) = recording.report.damage
    assert (damage.offset, damage.what) == (begin, "a chunk whose sizes contradict each other")
