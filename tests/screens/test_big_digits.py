"""Digits that are read across a mound: never solid, never alike, never joined to a neighbour's."""

from __future__ import annotations

from itertools import combinations

import pytest

from tui.widgets.big_digits import big_text, rows_that_fit

SIZES = range(3, 25)


@pytest.mark.parametrize("rows", SIZES)
def test_every_digit_has_a_shape_of_its_own(rows: int) -> None:
    shapes = {digit: big_text(digit, rows) for digit in "0123456789"}
    alike = [pair for pair in combinations(shapes, 2) if shapes[pair[0]] == shapes[pair[1]]]
    assert not alike


@pytest.mark.parametrize("rows", SIZES)
def test_an_eight_is_open_between_its_posts(rows: int) -> None:
    middle = [line[len(line) // 2] for line in big_text("8", rows)]
    assert sum(mark != "\N{FULL BLOCK}" for mark in middle) >= 2


@pytest.mark.parametrize("text", ["162", "246", "81.0", "130.4"])
@pytest.mark.parametrize("columns", [21, 24, 31, 36, 60])
def test_a_number_leaves_room_beside_it(text: str, columns: int) -> None:
    rows = rows_that_fit(text, columns, 14)
    if rows == 0:
        assert len(big_text(text, 3)[0]) >= columns
        return
    width = len(big_text(text, rows)[0])
    assert columns - width >= max(1, rows // 2 - 1)
    taller = len(big_text(text, rows + 1)[0])
    assert rows == 14 or columns - taller < max(1, (rows + 1) // 2 - 1)
