"""A metric names every event that its formula reads; without one of them it is empty, with why."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest

from simulators.scenario import Plan
from stream import report
from stream.metrics import METRICS, Lack, Metric, metric
from stream.movement import Movement
from stream.outputs import Pitch, PitchRecord
from stream.pipeline import Pipeline
from stream.settings import Settings
from tests.core.mounds import SOURCE, session

PLAN = Plan(seed=32, pitches=1, quick=True, traffic=0.0)


def measured(settings: Settings) -> PitchRecord:
    invented = session(PLAN)
    core = Pipeline(SOURCE, invented.layout, settings, roster=invented.scenario.roster)
    out = [*core.receive_many(list(invented.packets(50))), *core.finish()]
    (pitch,) = [o.record for o in out if isinstance(o, Pitch)]
    return pitch


def test_a_formula_reads_no_event_that_its_metric_does_not_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    read: set[str] = set()
    at, evaluate = Movement.at, report._evaluate
    checked: list[str] = []

    def noted(m: Movement, event: str) -> float:
        read.add(event)
        return at(m, event)

    def watched(
        entry: Metric, m: Movement, sure: dict[str, float | None]
    ) -> tuple[float | None, set[str]]:
        read.clear()
        found = evaluate(entry, m, sure)
        assert read <= set(entry.events), entry.key
        checked.append(entry.key)
        return found

    monkeypatch.setattr(Movement, "at", noted)
    monkeypatch.setattr(report, "_evaluate", watched)
    measured(Settings())
    assert checked == [m.key for m in METRICS]


def test_without_a_foot_contact_the_rest_is_measured() -> None:
    """A threshold that is passed only once the foot bears half the body finds no contact."""
    usual = measured(Settings())
    without = measured(msgspec.structs.replace(Settings(), contact_bw=0.7))
    assert without.foot_contact_frame is None
    assert "no_foot_contact" in without.flags
    empty = {key for key, value in without.metrics.items() if value is None}
    assert empty - {k for k, v in usual.metrics.items() if v is None} == {
        m.key for m in METRICS if "foot_contact" in m.events
    }
    assert without.metrics["drive_peak_bw"] == usual.metrics["drive_peak_bw"]


@pytest.mark.parametrize("lack", Lack)
def test_a_formula_without_a_number_is_told_by_its_own_metric(
    lack: Lack, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = replace(metric("drive_peak_n"), formula=lambda _: None, lack=lack)
    monkeypatch.setattr(report, "METRICS", (entry,))
    pitch = measured(Settings())
    assert pitch.metrics == {entry.key: None}
    assert set(pitch.flags) & set(Lack) == {lack}
