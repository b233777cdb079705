"""The history of a feed against a plain array that keeps everything."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.ring import Ring

CAPACITY = 7


@given(st.lists(st.integers(0, 3 * CAPACITY), max_size=12), st.data())
def test_any_window_that_is_kept_reads_as_it_was_written(
    blocks: list[int], data: st.DataObject
) -> None:
    ring, written = Ring(CAPACITY, 2, np.float64), np.empty((0, 2))
    for length in blocks:
        block = np.arange(2.0 * length).reshape(length, 2) + 100.0 * len(written)
        ring.append(block)
        written = np.concatenate([written, block])
        assert (ring.first, ring.end) == (max(0, len(written) - CAPACITY), len(written))
        start = data.draw(st.integers(ring.first, ring.end))
        end = data.draw(st.integers(start, ring.end))
        window = ring.view(start, end)
        assert np.array_equal(window, written[start:end])
        assert not window.flags.writeable


def test_what_is_no_longer_or_not_yet_kept_is_refused() -> None:
    ring = Ring(CAPACITY, 1, np.float32)
    ring.append(np.zeros((CAPACITY + 3, 1), np.float32))
    for start, end in ((2, 5), (5, CAPACITY + 4), (6, 5)):
        with pytest.raises(LookupError, match="not within 3 to 10"):
            ring.view(start, end)


def test_after_a_restart_nothing_before_it_is_kept() -> None:
    ring = Ring(CAPACITY, 1, np.float64)
    ring.append(np.ones((5, 1)))
    ring.restart(20)
    ring.append(np.full((3, 1), 2.0))
    assert ring.view(20, 23).tolist() == [[2.0]] * 3
    with pytest.raises(LookupError):
        ring.view(19, 21)
