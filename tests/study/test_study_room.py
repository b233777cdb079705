"""Tables of an answer have room beside the question, and only what varies is asked about."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from analysis.study.pages import Table
from tests.study.test_study_screen import answered, pitches
from tui.study.app import StudyApp
from tui.study.table_text import TableText, aligned
from tui.study.ticks import TickList

__all__ = ["pitches"]

HEAD = ("slope", "estimate", "SE", "low", "high", "df", "p", "p (Holm)")
ROWS = (
    ("within a pitcher", "-0.029", "0.0401", "-0.120", "0.062", "8.7", "0.49", "0.49"),
    ("between pitchers", "0.593", "0.0358", "0.510", "0.675", "8.0", "< 0.001", ""),
)


@pytest.mark.parametrize("room", [35, 41, 60, 69, 100])
def test_no_cell_is_cut_and_an_interval_stays_together(room: int) -> None:
    lines = aligned(Table("Ball speed per push-off peak, in its units", HEAD, ROWS), room).split(
        "\n"
    )
    assert max(map(len, lines)) <= room
    text = "\n".join(lines)
    for cell in (*HEAD, *ROWS[0], *ROWS[1]):
        assert cell in text
    (heads,) = (line for line in lines if "low" in line)
    assert heads.split().index("high") == heads.split().index("low") + 1
    blocks = sum(line.startswith("slope") for line in lines)
    assert sum(line.startswith("within a pitcher") for line in lines) == blocks
    assert (blocks == 1) == (room == 100)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_the_answers_tables_fit(pitches: Path, size: tuple[int, int]) -> None:
    app = StudyApp([pitches])
    async with app.run_test(size=size) as pilot:
        await answered(pilot, app)
        await pilot.press("ctrl+r")
        await answered(pilot, app)
        await pilot.pause()
        pane = app.query_one("#answer").scrollable_content_region
        tables = list(app.query(TableText))
        assert tables
        for table in tables:
            lines = str(table.content).split("\n")
            assert "high" in str(table.content)
            assert max(map(len, lines)) <= table.size.width
            assert table.size.height == len(lines)
            assert table.region.right <= pane.right


async def test_what_is_the_same_in_every_row_is_not_offered(pitches: Path, tmp_path: Path) -> None:
    frame = pd.read_csv(pitches)
    frame["foot_contact_s"] = 0.0
    frame.to_csv(tmp_path / "pitches.csv", index=False)
    app = StudyApp([tmp_path / "pitches.csv"])
    async with app.run_test(size=(120, 40)) as pilot:
        await answered(pilot, app)
        offered = [
            str(ticks.get_option_at_index(at).prompt)
            for ticks in app.query(TickList)
            for at in range(ticks.option_count)
        ]
        assert any("drive_peak_bw" in name for name in offered)
        assert not any("foot_contact_s" in name for name in offered)
