"""Continuity: gaps, repeats, disorder and restarts, whatever the cut."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stream.continuity import Continuity, Run, Step
from stream.outputs import Gap, StreamStarted
from stream.wire import ForceMessage


def block(first: int, frames: int, stream: str = "s", t_ns: int | None = None) -> ForceMessage:
    values = np.arange(first, first + frames, dtype=np.float32)[:, None]
    return ForceMessage(
        "m", stream, first, first * 5_000_000 if t_ns is None else t_ns, 200.0, values
    )


def frames_of(steps: list[Step]) -> list[float]:
    return [x for s in steps if isinstance(s, Run) for x in s.samples[:, 0].tolist()]


@given(cuts=st.lists(st.integers(1, 30), min_size=1, max_size=12))
def test_repeated_blocks_are_left_out_and_counted(cuts: list[int]) -> None:
    starts = np.concatenate([[0], np.cumsum(cuts)])
    blocks = [block(int(s), n) for s, n in zip(starts[:-1], cuts, strict=True)]
    sent = blocks + blocks[:3]
    feed = Continuity()
    got = [s for b in sent for s in feed.accept(b)] + feed.flush()
    assert frames_of(got) == list(range(int(starts[-1])))
    assert feed.counters.repeated_frames == sum(cuts[:3])
    assert feed.counters.lost_frames == 0


def test_a_swapped_pair_heals() -> None:
    feed = Continuity()
    got = [s for b in (block(0, 4), block(8, 4), block(4, 4)) for s in feed.accept(b)]
    assert frames_of(got) == list(range(12))
    assert feed.counters.gaps == 0


def test_what_does_not_come_is_a_gap_after_a_tenth_of_a_second() -> None:
    feed = Continuity()
    steps = [s for b in (block(0, 4), block(8, 12)) for s in feed.accept(b)]
    assert frames_of(steps) == [0, 1, 2, 3]
    later = feed.accept(block(20, 8))
    assert [(s.first_frame, s.frames) for s in later if isinstance(s, Gap)] == [(4, 4)]
    assert feed.accept(block(4, 4)) == []
    assert (feed.counters.lost_frames, feed.counters.late_frames) == (4, 4)


def test_a_new_stream_value_and_an_unannounced_restart_both_begin_anew() -> None:
    feed = Continuity()
    feed.accept(block(0, 1000))
    announced = feed.accept(block(0, 4, stream="t"))
    assert [s.restart for s in announced if isinstance(s, StreamStarted)] == [True]
    feed.accept(block(4, 1000, stream="t"))
    assert feed.accept(block(0, 4, stream="t", t_ns=10**11)) == [], "one alone may be a mistake"
    silent = feed.accept(block(4, 4, stream="t", t_ns=10**11 + 20_000_000))
    assert frames_of(silent) == list(range(8)), "nothing of the new start is lost"
    assert [s.restart for s in silent if isinstance(s, StreamStarted)] == [True]
    assert feed.counters.restarts == 2
