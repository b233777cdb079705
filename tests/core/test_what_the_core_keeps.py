"""What a core keeps of the pitches it has told (invented sessions)."""

from __future__ import annotations

import gc
import weakref

import msgspec
import pytest

import stream.telling
from simulators.scenario import Plan
from stream.actions import Reassign
from stream.book import OPEN_AT_MOST
from stream.counting import Verdict
from stream.layout import Array
from stream.outputs import NotCountedReason, Pitch, PitchChanged, PitchRecord
from stream.pipeline import Pipeline
from stream.report import Measured
from tests.core.mounds import SOURCE, session

PITCHES = OPEN_AT_MOST + 2


@pytest.fixture(scope="module")
def told() -> tuple[Pipeline, list[PitchRecord], list[weakref.ref[Array]]]:
    """Return a core, the pitches it told and weak references to a part of their traces."""
    invented = session(Plan(seed=31, pitches=PITCHES, quick=True, traffic=0.0))
    core, records, traces = invented.pipeline(), [], []
    for packet in invented.packets(50):
        for output in core.receive(packet):
            if isinstance(output, Pitch):
                records.append(output.record)
                traces.append(weakref.ref(output.traces.drive))
    return core, records, traces


def test_traces_are_kept_by_nobody(
    told: tuple[Pipeline, list[PitchRecord], list[weakref.ref[Array]]],
) -> None:
    _, records, traces = told
    assert len(records) == PITCHES
    gc.collect()
    assert [trace() for trace in traces[:-1]] == [None] * (PITCHES - 1)


def test_what_cannot_be_measured_for_another_keeps_its_numbers(
    told: tuple[Pipeline, list[PitchRecord], list[weakref.ref[Array]]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    core, records, _ = told
    before = records[-1]
    other = next(p for p in core.roster if p.code != before.pitcher)

    def refuse(*_: object) -> Measured | Verdict | None:
        return Verdict(NotCountedReason.OTHER, "for him it is none")

    monkeypatch.setattr(stream.telling, "measure", refuse)
    given = Reassign(source=SOURCE, t_ns=0, number=before.number, pitcher=other.code)
    (changed,) = core.book.act(given)
    assert isinstance(changed, PitchChanged)
    expected = msgspec.structs.replace(before, pitcher=other.code, throws=other.throws)
    assert msgspec.structs.replace(changed.record, speed_mps=None) == expected
