"""The coach's table: its columns, and pitchers that can be told from each other."""

from __future__ import annotations

import msgspec
import pytest

from stream.outputs import Pitch
from tests.screens.invented import Operated, pitch, record, snapshot, traces
from tests.screens.test_pitch_screen import settle, shown
from tui.app import MoundfeedApp
from tui.units import System, Units


async def test_body_speed_is_among_the_columns_of_a_wide_screen() -> None:
    link = Operated()
    link.show(snapshot())
    base = record(1)
    metrics = dict(base.metrics) | {"forward_speed_mps": 3.218}
    link.feed([Pitch(msgspec.structs.replace(base, metrics=metrics), traces())])
    app = MoundfeedApp(link, units=Units(System.SI))
    async with app.run_test(size=(200, 60)) as pilot:
        await settle(pilot)
        rows = [row[105:].split() for row in shown(app).split("\n")]
        heads = next(row for row in rows if "push" in row and "#" in row)
        values = next(row for row in rows if row[:2] == ["▶", "1"])
        assert values[1 + heads.index("body")] == "3.22"


async def test_pitchers_with_long_codes_are_told_from_each_other_where_there_is_room() -> None:
    link = Operated()
    link.show(snapshot())
    codes = ("2026-east-01", "2026-east-02")
    link.feed([pitch(n, pitcher=code) for n, code in enumerate(codes, 1)])
    app = MoundfeedApp(link)
    async with app.run_test(size=(200, 60)) as pilot:
        await settle(pilot)
        assert all(f" {code} " in shown(app) for code in codes)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert "2026… " in shown(app)


@pytest.mark.parametrize(("size", "heads"), [
    ((80, 24), ("PUSH-OFF %BW ", "LANDING %BW ≈ ")),
    ((200, 60), ("PUSH-OFF % body weight ", "LANDING % body weight ≈ estimate ")),
])  # fmt: skip
async def test_an_estimate_is_marked_where_the_coach_reads_it(
    size: tuple[int, int], heads: tuple[str, ...]
) -> None:
    link = Operated()
    link.show(snapshot())
    link.feed([pitch(1, estimated=["landing_peak_bw"])])
    app = MoundfeedApp(link)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        text = shown(app)
        assert all(head in text for head in heads)
        assert " 166 ≈221 " in " ".join(text.split())
