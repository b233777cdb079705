"""The small running plots: what bears a load does not look like what bears none."""

from __future__ import annotations

import pytest

from tui.widgets.strips import area_mask


@pytest.mark.parametrize("rows", [1, 2, 4])
def test_somebody_who_stands_there_looks_unlike_an_empty_deck(rows: int) -> None:
    full = 3 * 880.0  # the plot's height is three body weights
    standing = area_mask([880.0] * 8, 4, rows, 0.0, full).sum(axis=0)
    empty = area_mask([0.4] * 8, 4, rows, 0.0, full).sum(axis=0)
    assert (empty == 1).all()
    assert (standing > empty).all()
    assert (area_mask([full] * 8, 4, rows, 0.0, full).sum(axis=0) == 4 * rows).all()


def test_what_is_missing_stays_missing() -> None:
    assert not area_mask([float("nan")] * 8, 4, 2, 0.0, 1.0).any()


@pytest.mark.parametrize("rows", [1, 2, 4])
def test_a_rate_that_trembles_about_the_middle_is_an_even_line(rows: int) -> None:
    rates = [199.9, 200.1, 200.0, 200.2] * 4
    levels = area_mask(rates, 8, rows, 180.0, 220.0).sum(axis=0)
    assert len(set(levels.tolist())) == 1
