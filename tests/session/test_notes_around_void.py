"""A pitch's note outlives a void: in the live core, the next run and the stored session."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.actions import EnterSpeed, Note, Reassign, Restore, Void
from stream.book import TYPED_SPEED, Book
from stream.changes import Change, apply_changes, book_of
from stream.outputs import PitchRecord
from tests.session.test_session_folder import pitch

SOURCE = "mound-a"
ORIG = Note(source=SOURCE, t_ns=1, number=1, text="orig")
LEFT_KNEE = Note(source=SOURCE, t_ns=2, number=1, text="left knee")
WARM_UP = Void(source=SOURCE, t_ns=3, number=1, reason="warm-up")
OTHER = Void(source=SOURCE, t_ns=4, number=1, reason="other")
UNSAID = Void(source=SOURCE, t_ns=5, number=1, reason="")
RESTORE = Restore(source=SOURCE, t_ns=6, number=1)
P02 = Reassign(source=SOURCE, t_ns=7, number=1, pitcher="P02")


def given_to(record: PitchRecord, code: str) -> PitchRecord:
    return msgspec.structs.replace(record, pitcher=code)


def live(actions: list[Change]) -> PitchRecord:
    """The pitch after ``actions`` in one run of the core."""
    book = Book(SOURCE, 1)
    book.add(pitch(1), 0, lambda code: given_to(pitch(1), code))
    for action in actions:
        book.act(action)
    return book.records[1]


@pytest.mark.parametrize(
    ("actions", "note"),
    [
        ([ORIG, WARM_UP, RESTORE], "orig"),
        ([ORIG, WARM_UP, OTHER, RESTORE], "orig"),
        ([ORIG, WARM_UP, LEFT_KNEE], "left knee"),
        ([ORIG, WARM_UP, LEFT_KNEE, RESTORE], "left knee"),
        ([ORIG, WARM_UP, LEFT_KNEE, OTHER, RESTORE], "left knee"),
        ([ORIG, RESTORE], "orig"),
        ([ORIG, UNSAID, RESTORE], "orig"),
        ([WARM_UP, UNSAID], "warm-up"),
        ([ORIG, WARM_UP, P02, RESTORE], "orig"),
    ],
)
def test_the_note_is_there_again_after_a_void(actions: list[Change], note: str) -> None:
    assert live(actions).note == note


@given(
    actions=st.lists(
        st.sampled_from([ORIG, LEFT_KNEE, WARM_UP, OTHER, UNSAID, RESTORE, P02]), max_size=7
    ),
    written=st.integers(0, 7),
    ended=st.integers(0, 7),
)
def test_a_next_run_and_the_stored_session_say_what_one_run_says(
    actions: list[Change], written: int, ended: int
) -> None:
    wanted = live(actions)
    # The line is written after some of the actions; the run ends after it.
    line = live(actions[:written])
    before, after = actions[: max(written, ended)], actions[max(written, ended) :]
    assert apply_changes(SOURCE, [line], actions, given_to) == (wanted,)
    book = book_of(SOURCE, [line], before, given_to)
    for action in after:
        book.act(action)
    assert book.records[1] == wanted


def test_a_typed_speed_taken_back_stays_so_for_another_pitcher() -> None:
    line = msgspec.structs.replace(pitch(1), speed_mps=38.0, flags=(TYPED_SPEED,))
    taken_back = EnterSpeed(source=SOURCE, t_ns=8, number=1, speed_mps=None)
    (changed,) = apply_changes(SOURCE, [line], [taken_back, P02], given_to)
    assert (changed.pitcher, changed.speed_mps, changed.flags) == ("P02", None, ())
