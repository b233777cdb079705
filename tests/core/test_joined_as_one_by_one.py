"""Messages joined into one block give what each taken by itself gives, bad ones among them."""

import numpy as np
import pytest

from simulators.scenario import Plan
from stream.intake import Intake
from stream.outputs import Output
from stream.pipeline import Pipeline
from stream.wire import Packet
from tests.core.mounds import Session, force_packet, records, session

PLAN = Plan(seed=8, pitches=1, quick=True, traffic=0.0)
BLOCK = 10


def spoilt(invented: Session) -> list[Packet]:
    """The session's messages with a hole, a repeat, two that change places and three bad ones."""
    good = list(invented.packets(BLOCK))
    broken, absurd = invented.samples[2000:2010].copy(), invented.samples[3000:3010].copy()
    broken[4, 3], absurd[0, 0] = np.nan, 2e6
    good[200] = force_packet(2000, broken)
    good[300] = force_packet(3000, absurd)
    good[400] = Packet(good[400].topic, good[400].payload[:-3], good[400].received_ns)
    good[500], good[501] = good[501], good[500]
    return [*good[:600], *good[601:700], *good[690:]]


def outcome(core: Pipeline, packets: list[Packet], batch: int) -> tuple[list[bytes], str, str]:
    out: list[Output] = []
    for start in range(0, len(packets), batch):
        out += core.receive_many(packets[start : start + batch])
    kinds = " ".join(sorted(type(o).__name__ for o in out))
    counted = f"{core.continuity.counters} {core.watchman.rejected} {core.watchman.delay_ms()}"
    return records(out + core.finish()), kinds, counted


def test_joined_blocks_and_single_messages_come_to_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    invented = session(PLAN)
    packets = spoilt(invented)
    joined = [outcome(invented.pipeline(), packets, batch) for batch in (1, 64, 1024)]
    monkeypatch.setattr(Intake, "take_many", lambda *_: None)
    one_by_one = outcome(invented.pipeline(), packets, 1)
    assert joined == [one_by_one] * 3
    assert len(one_by_one[0]) >= 1
    for reason in ("not_finite", "out_of_range", "unreadable"):
        assert reason in one_by_one[2]


def test_the_everyday_feed_is_joined_to_the_last_message(monkeypatch: pytest.MonkeyPatch) -> None:
    invented = session(PLAN)
    core, packets = invented.pipeline(), list(invented.packets(BLOCK))
    core.receive_many(packets[:1])
    monkeypatch.setattr(Pipeline, "_take_one", None)
    core.receive_many(packets[1:])
    assert core.continuity.counters.frames == len(invented.samples)
