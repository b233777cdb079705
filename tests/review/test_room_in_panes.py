"""What a pane says has room in it, or the pane says that it has not; invented data."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import numpy as np
import pytest

from analysis.sessions.stored import StoredSession
from tests.review.driving import press, review, shown
from tests.review.invented_sessions import pitches, record, stored


@pytest.mark.parametrize("width", [80, 110, 120, 160, 200])
async def test_metrics_stand_beside_the_median(tmp_path: Path, width: int) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(width, 40)) as pilot:
        await press(pilot, "2")
        text = shown(app)
        assert re.search(r"this +median +spread +differs", text)
        push = next(
            line for line in text.splitlines() if re.search(r"Push-off peak +\d+ %BW", line)
        )
        assert re.search(r"%BW +159 +\d+ +[+-]?\d", push)
        assert "…" not in text


async def test_where_they_do_not_it_is_said(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(46, 24)) as pilot:
        await press(pilot, "2")
        assert "To compare, make the window wider." in shown(app)
        assert "median" not in shown(app)


def day(folder: Path, seed: int, created: str) -> StoredSession:
    """Return a day of one pitcher whose times differ by some thousandths of a second."""
    noise = np.random.default_rng(seed).normal(size=(12, 2))
    records = []
    for number, (push, time) in enumerate(noise.tolist(), 1):
        made = record(number, push=round(160.0 + 4.0 * push, 1))
        times = {
            "drive_time_s": 0.62 - 0.004 * seed + 0.004 * time,
            "landing_rise_bw_per_s": 4321.0,
        }
        records.append(msgspec.structs.replace(made, metrics={**made.metrics, **times}))
    return stored(folder, records, created=created)


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40), (200, 60)])
async def test_days_show_whole_intervals_and_the_whole_hint(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    days = [day(tmp_path / f"day-{n}", n, f"2031-05-0{n}T15:00:00+00:00") for n in range(1, 7)]
    app = review(*days)
    async with app.run_test(size=size) as pilot:
        await press(pilot, "5")
        text = shown(app)
        assert ", and . show others" in text
        (time,) = (line for line in text.splitlines() if re.search(r"[Pp]ush(-off)? time", line))
        whole = re.findall(r"[+-]?\d\.\d{3} \([+-]?\d\.\d{3} to [+-]?\d\.\d{3}\)", time)
        assert whole
        assert len(whole) == time.count("(")
