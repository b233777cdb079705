"""The session's table is in the order in which things happened, whatever the device's frames do."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analysis.running import NotCountedRow, in_order, pitch_rows
from tests.screens.invented import not_counted, record

Place = tuple[str, float | None]


def order(pitches: list[Place], movements: list[tuple[str, float]]) -> list[int | float]:
    """Numbers of pitches and frames of movements as the table has them."""
    records = [
        replace(record(number), stream=stream, foot_contact_frame=frame)
        for number, (stream, frame) in enumerate(pitches, 1)
    ]
    others = [
        replace(not_counted(0).record, stream=stream, frame=frame) for stream, frame in movements
    ]
    rows = in_order(pitch_rows(records), others)
    return [r.record.frame if isinstance(r, NotCountedRow) else r.record.number for r in rows]


@pytest.mark.parametrize(
    ("pitches", "movements", "wanted"),
    [
        # The device starts again under the same stream value: its frames go back.
        ([("s", 9e3), ("s", 20e3), ("s", 4e3)], [], [1, 2, 3]),
        (
            [("s", 9e3), ("s", 20e3), ("s", 4e3)],
            [("s", 15e3), ("s", 25e3), ("s", 3e3), ("s", 5e3)],
            [1, 15e3, 2, 25e3, 3e3, 3, 5e3],
        ),
        # A stream that was left is taken up again.
        ([("s", 9e3), ("t", 2e3), ("s", 20e3)], [("s", 15e3)], [1, 2, 15e3, 3]),
        # An unknown foot contact is as far as the pitch before it in its stream.
        (
            [("s", 9e3), ("s", None), ("t", None), ("t", 3e3)],
            [("s", 5e3), ("s", 10e3), ("t", 1e3)],
            [5e3, 1, 2, 10e3, 3, 1e3, 4],
        ),
        # A run in which nothing was counted.
        ([("s", 9e3)], [("s", 5e3), ("t", 7e3)], [5e3, 1, 7e3]),
        ([], [("s", 5e3), ("s", 2e3)], [5e3, 2e3]),
    ],
)
def test_pitches_by_number_and_movements_between_them(
    pitches: list[Place], movements: list[tuple[str, float]], wanted: list[int | float]
) -> None:
    assert order(pitches, movements) == wanted
