"""Continuity: gaps, repeats, disorder and restarts, whatever the cut."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.continuity import Continuity, Run, Step
from stream.left_streams import SILENT_NS, TOO_MANY
from stream.outputs import Fault, Gap, StreamStarted
from stream.wire import NS, ForceMessage

HOUR = 3600 * NS


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
    got = [s for b in sent for s in feed.accept(b, 0)] + feed.flush()
    assert frames_of(got) == list(range(int(starts[-1])))
    assert feed.counters.repeated_frames == sum(cuts[:3])
    assert feed.counters.lost_frames == 0


def test_a_swapped_pair_heals() -> None:
    feed = Continuity()
    got = [s for b in (block(0, 4), block(8, 4), block(4, 4)) for s in feed.accept(b, 0)]
    assert frames_of(got) == list(range(12))
    assert feed.counters.gaps == 0


def test_what_does_not_come_is_a_gap_after_a_tenth_of_a_second() -> None:
    feed = Continuity()
    steps = [s for b in (block(0, 4), block(8, 12)) for s in feed.accept(b, 0)]
    assert frames_of(steps) == [0, 1, 2, 3]
    later = feed.accept(block(20, 8), 0)
    assert [(s.first_frame, s.frames) for s in later if isinstance(s, Gap)] == [(4, 4)]
    assert feed.accept(block(4, 4), 0) == []
    assert (feed.counters.lost_frames, feed.counters.late_frames) == (4, 4)


def test_a_new_stream_value_and_an_unannounced_restart_both_begin_anew() -> None:
    feed = Continuity()
    feed.accept(block(0, 1000), 0)
    announced = feed.accept(block(0, 4, stream="t"), 0)
    assert [s.restart for s in announced if isinstance(s, StreamStarted)] == [True]
    feed.accept(block(4, 1000, stream="t"), 0)
    assert feed.accept(block(0, 4, stream="t", t_ns=10**11), 0) == [], "one alone may be a mistake"
    silent = feed.accept(block(4, 4, stream="t", t_ns=10**11 + 20_000_000), 0)
    assert frames_of(silent) == list(range(8)), "nothing of the new start is lost"
    assert [s.restart for s in silent if isinstance(s, StreamStarted)] == [True]
    assert feed.counters.restarts == 2


def test_a_late_block_of_the_stream_before_is_put_aside_not_a_restart() -> None:
    feed = Continuity()
    feed.accept(block(0, 4, stream="s"), 0)
    feed.accept(block(0, 4, stream="t"), NS)
    feed.accept(block(4, 4, stream="t"), NS)
    late = feed.accept(block(4, 4, stream="s"), NS + 10)
    assert [s.kind for s in late if isinstance(s, Fault)] == ["late_stream"]
    assert len(late) == 1
    assert frames_of(feed.accept(block(8, 4, stream="t"), NS + 20)) == [8, 9, 10, 11]
    assert (feed.counters.restarts, feed.counters.gaps) == (1, 0)


@pytest.mark.fault(
    "one block comes under another stream value and the stream before goes on",
    "the stream before is followed again at once",
)
def test_a_single_block_of_another_stream_does_not_lead_away() -> None:
    feed = Continuity()
    steps: list[Step] = []
    for at in range(0, 80, 4):
        if at == 40:
            feed.accept(block(123, 4, stream="broken"), at)
        steps += feed.accept(block(at, 4, stream="s"), at)
    assert frames_of(steps) == list(range(80))
    assert not any(isinstance(s, Fault) for s in steps)
    late = feed.accept(block(127, 4, stream="broken"), 80)
    assert [s.kind for s in late if isinstance(s, Fault)] == ["late_stream"]


def test_of_two_devices_under_one_name_one_is_followed_and_it_is_said() -> None:
    feed = Continuity()
    steps: list[Step] = []
    for at in range(0, 800, 4):
        for stream in ("s", "t"):
            steps += feed.accept(block(at, 4, stream=stream), at * 5_000_000)
    assert feed.counters.restarts == 1
    assert frames_of(steps) == [0, 1, 2, 3, *range(800)]
    told = [s.kind for s in steps if isinstance(s, Fault)]
    assert told == ["late_stream"] * (TOO_MANY - 1) + ["two_devices"] * (200 - TOO_MANY)


def test_a_stream_that_was_left_is_taken_up_when_the_followed_one_is_silent() -> None:
    feed = Continuity()
    feed.accept(block(0, 4, stream="s"), 0)
    feed.accept(block(0, 4, stream="t"), NS)
    before = feed.accept(block(4, 4, stream="s"), NS + SILENT_NS - 1)
    assert not any(isinstance(s, StreamStarted) for s in before)
    after = feed.accept(block(8, 4, stream="s"), NS + SILENT_NS)
    assert [s.stream for s in after if isinstance(s, StreamStarted)] == ["s"]
    assert frames_of(after) == [8, 9, 10, 11]
    late = feed.accept(block(4, 4, stream="t"), NS + SILENT_NS + 1)
    assert [s.kind for s in late if isinstance(s, Fault)] == ["late_stream"]
    assert feed.counters.restarts == 2


def test_a_host_clock_that_was_set_back_neither_restarts_nor_locks_out() -> None:
    feed = Continuity()
    feed.accept(block(0, 4, stream="s"), HOUR)
    feed.accept(block(0, 4, stream="t"), HOUR + NS)
    late = feed.accept(block(4, 4, stream="s"), NS)
    assert [s.kind for s in late if isinstance(s, Fault)] == ["late_stream"]
    again = feed.accept(block(8, 4, stream="s"), NS + SILENT_NS)
    assert [s.stream for s in again if isinstance(s, StreamStarted)] == ["s"]


def test_streams_that_were_left_are_not_remembered_without_end() -> None:
    feed = Continuity()
    for number in range(100):
        feed.accept(block(0, 4, stream=f"s{number}"), number)
    again = feed.accept(block(4, 4, stream="s0"), 100)
    assert [s.stream for s in again if isinstance(s, StreamStarted)] == ["s0"]
