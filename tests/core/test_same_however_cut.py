"""Records are bit-identical for any cut of the stream, one by one or many at once."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulators.scenario import Plan
from stream.feet import feet_model
from stream.files import load_layout
from stream.settings import Settings
from stream.tracker import Tracker, zero_from_tare
from stream.zero import NO_ZERO
from tests.core.mounds import Session, records, session

PLAN = Plan(seed=5, pitches=3, quick=True, traffic=1.0)


def one_by_one(given_session: Session, cuts: list[int]) -> list[bytes]:
    core = given_session.pipeline()
    out = [o for packet in given_session.packets(cuts) for o in core.receive(packet)]
    return records(out + core.finish())


def many_at_once(given_session: Session, cuts: list[int], batch: int) -> list[bytes]:
    core = given_session.pipeline()
    packets = list(given_session.packets(cuts))
    out = []
    for start in range(0, len(packets), batch):
        out += core.receive_many(packets[start : start + batch])
    return records(out + core.finish())


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(cuts=st.lists(st.integers(1, 700), min_size=1, max_size=6), batch=st.integers(1, 400))
def test_any_cut_and_any_batch_give_the_same_bytes(cuts: list[int], batch: int) -> None:
    invented = session(PLAN, noise_n=3.0)
    whole = one_by_one(invented, [2000])
    assert len(whole) >= 3
    assert one_by_one(invented, cuts) == whole
    assert many_at_once(invented, cuts, batch) == whole


def test_frame_by_frame_gives_the_same_bytes_on_every_layout() -> None:
    for layout in ("two-plates", "tiled", "four-corner"):
        invented = session(Plan(seed=6, pitches=1, quick=True, traffic=0.0), layout)
        assert one_by_one(invented, [1]) == one_by_one(invented, [2000]) != []


@pytest.mark.parametrize("layout", ["two-plates", "tiled", "four-corner"])
@pytest.mark.parametrize("cut", [1, 2, 3, 7, 64, 999])
def test_what_the_detector_sees_is_the_same_to_the_last_bit(layout: str, cut: int) -> None:
    feet = feet_model(load_layout(layout))
    frames = np.random.default_rng(7).normal(0.0, 300.0, (1000, feet.layout.channels))

    def seen(step: int) -> bytes:
        zero = np.zeros(feet.layout.channels)
        online = feet.online_rows()
        none_yet = zero_from_tare(zero, online, 0.0, frame=0, kind=NO_ZERO)
        tracker = Tracker(feet, 200.0, Settings(), none_yet, 0)
        for start in range(0, len(frames), step):
            list(tracker.take(frames[start : start + step].astype(np.float32)))
        return bytes(tracker.online.view(0, 1000))

    assert seen(cut) == seen(1000)
