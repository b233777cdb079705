"""Text from outside cannot take over the screen."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.safe_text import plain


@given(st.text(max_size=300))
def test_nothing_unseen_comes_through(text: str) -> None:
    shown = plain(text)
    assert len(shown) <= 200
    assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in shown)


@given(st.text(st.characters(categories=("L", "N", "P", "S")), max_size=200))
def test_ordinary_text_is_left_alone(text: str) -> None:
    assert plain(text) == text


@pytest.mark.parametrize(
    "nasty",
    ["\x1b[2J", "\x1b]0;owned\x07", "\x9b31m", "a\u202eb", "a\u2066b", "a\u200bb", "a\x00b"],
)
def test_terminal_and_direction_controls(nasty: str) -> None:
    shown = plain(nasty)
    assert "\N{REPLACEMENT CHARACTER}" in shown
    assert "\x1b" not in shown
    assert "\u202e" not in shown


def test_lines_become_one_and_marks_do_not_pile_up() -> None:
    assert plain("one\ntwo\tthree") == "one two three"
    assert len(plain("e" + "\u0301" * 50)) == 3


def test_long_text_is_cut_visibly() -> None:
    assert plain("x" * 50, 10) == "x" * 9 + "…"
