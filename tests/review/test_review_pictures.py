"""Pictures of the review's panes and of every dialog over them, at a small and a usual size."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.review.driving import review
from tests.review.invented_sessions import pitches, record, step_off, stored
from tests.screens.pictures import Compare, at_sizes, seen
from tui.review.app import ReviewApp


def app_of(folder: Path) -> ReviewApp:
    records = pitches(12)
    records[3] = record(4, "P01", 182.0, flags=("void",), note="warm-up")
    tuesday = stored(folder / "tuesday", [*records, step_off(2)])
    created = "2031-05-08T15:00:00+00:00"
    return review(tuesday, stored(folder / "thursday", pitches(9, seed=8), created=created))


PANES = {
    "table": ("1",),
    "metrics": ("2",),
    "curves": ("space", "down", "3", "shift+left"),
    "deck": ("4",),
    "deck-one-foot": ("4", "z"),
    "days": ("5",),
}


@pytest.mark.parametrize("pane", PANES)
@at_sizes
def test_pane(snap_compare: Compare, tmp_path: Path, size: tuple[int, int], pane: str) -> None:
    words = ("thursday",) if pane == "days" else ("SESSION 1 of 2: tuesday",)
    before = seen(*words, keys=PANES[pane])
    assert snap_compare(app_of(tmp_path), terminal_size=size, run_before=before)


@pytest.mark.parametrize(
    ("key", "word"),
    [
        ("p", "Whose pitches?"),
        ("f", "Which pitches?"),
        ("k", "take them"),
        ("o", "Order by what?"),
        ("number_sign", "Go to which pitch?"),
        ("w", "Write what?"),
        ("y", "Copy what to the clipboard?"),
        ("question_mark", "Table"),
        ("ctrl+p", "Assign the pitch to another pitcher"),
    ],
    ids=["whose", "which", "columns", "order", "go-to", "write", "copy", "help", "palette"],
)
@at_sizes
def test_dialog(
    snap_compare: Compare, tmp_path: Path, size: tuple[int, int], key: str, word: str
) -> None:
    keys = (key, *"another") if key == "ctrl+p" else (key,)
    before = seen(word, keys=keys)
    assert snap_compare(app_of(tmp_path), terminal_size=size, run_before=before)


@at_sizes
def test_where_a_report_goes(snap_compare: Compare, tmp_path: Path, size: tuple[int, int]) -> None:
    before = seen("Enter: write it", keys=("w", *"report", "enter"))
    assert snap_compare(app_of(tmp_path), terminal_size=size, run_before=before)
