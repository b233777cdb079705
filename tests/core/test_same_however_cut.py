"""Records are bit-identical for any cut of the stream, one by one or many at once."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulators.scenario import Plan
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
