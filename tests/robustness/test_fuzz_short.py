"""A short run of the fuzz programs, and that they find what is planted."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from benchmarks.fuzz import run
from benchmarks.fuzz_files import FileFuzz
from benchmarks.fuzz_messages import MessageFuzz
from benchmarks.fuzz_oracle import Broken, is_valid_force
from stream import layout, wire
from stream.files import load_layout
from stream.monitor import protocol
from stream.watchman import Watchman
from stream.wire import decode_force
from tests.robustness.bullpen import SOURCE, invented

Measured = Callable[[str], None]


@pytest.mark.fault(
    "bad messages of every kind on every topic, from seeds (short run)",
    "no crash, hang, growth or made-up number; each refusal counted",
)
def test_bad_messages(measured: Measured) -> None:
    became = run(MessageFuzz(seed=2), count=6000, guided=500)
    assert became["refused and counted"] > 500
    assert became["taken"] > 200, "the core was in the middle of things"
    measured(f"6000 messages: {became['refused and counted']} refused and counted")


@pytest.mark.fault(
    "bad layouts, settings, rosters, connections, recordings and session files (short run)",
    "refused in words, or read with real numbers only",
)
def test_bad_files(measured: Measured) -> None:
    became = run(FileFuzz(seed=2), count=250, guided=60)
    refused = sum(n for what, n in became.items() if what.endswith("refused in words"))
    assert refused > 40
    measured(f"250 files: {refused} refused in words")


def test_the_oracle_agrees_with_the_reader_on_good_messages() -> None:
    force = [payload for topic, payload in invented() if topic.endswith("/force")]
    assert all(is_valid_force(payload, SOURCE) for payload in force)
    assert not is_valid_force(force[0][:-1], SOURCE)
    assert not is_valid_force(force[0], "mound-b")
    table = msgspec.msgpack.decode(force[0])
    assert not is_valid_force(msgspec.msgpack.encode({**table, "v": 2}), SOURCE)


def test_it_finds_a_reader_that_lets_no_numbers_through(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "_check_readings", lambda flat: None)
    with pytest.raises(Broken, match="no force message"):
        run(MessageFuzz(seed=2), count=6000, guided=0)


def test_it_finds_an_error_that_escapes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        protocol, "decode", lambda payload, kind: msgspec.msgpack.decode(payload, type=kind)
    )
    with pytest.raises(RecursionError):
        run(MessageFuzz(seed=2), count=6000, guided=0)


def test_it_finds_a_refusal_that_nobody_hears(monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(self: Watchman, reason: str, received_ns: int, say: str) -> str:
        self.rejected[reason] += 1
        return ""

    monkeypatch.setattr(Watchman, "refused", silent)
    with pytest.raises(Broken, match="nothing was said"):
        run(MessageFuzz(seed=2), count=6000, guided=0)


def test_it_finds_a_layout_with_absurd_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(layout, "_check_deck", lambda *checked: None)
    absurd = tmp_path / "absurd.toml"
    sound = load_layout("two-plates").origin_text
    absurd.write_text(re.sub(r"(?m)^half_width_m *=.*$", "half_width_m = inf", sound))
    with pytest.raises(Broken, match="size is no number"):
        FileFuzz(seed=3).check_layout(absurd)


def test_it_finds_memory_that_grows(monkeypatch: pytest.MonkeyPatch) -> None:
    hoard: list[bytes] = []

    def hoarding(payload: bytes) -> wire.ForceMessage:
        hoard.append(bytes(20_000))
        return decode_force(payload)

    monkeypatch.setattr("stream.pipeline.decode_force", hoarding)
    with pytest.raises(Broken, match="memory has grown"):
        run(MessageFuzz(seed=2), count=6000, guided=0)


def test_guidance_keeps_what_reaches_new_lines() -> None:
    fuzz = MessageFuzz(seed=2)
    run(fuzz, count=300, guided=300)
    assert fuzz.kept > 5
