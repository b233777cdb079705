"""What is told at the screen stands there once and covers no question."""

from __future__ import annotations

from pathlib import Path

from tests.review.driving import press, review, told, until
from tests.review.invented_sessions import pitches, stored
from tests.screens.invented import Operated, session, snapshot
from tests.screens.test_pitch_screen import settle, shown
from tui.app import MoundfeedApp
from tui.screens.dialogs import VOID_REASONS


async def test_the_same_is_told_once(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "e", "e", "u", "u", "e")
        assert told(app) == ["Nothing to read: the recordings are whole."]


async def test_it_is_told_beside_a_question_not_over_it(tmp_path: Path) -> None:
    app = review(stored(tmp_path / "tuesday", pitches()))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "e", "w")
        assert told(app) == []
        app.tell("Written: a report.")  # by what went on in the background
        await pilot.pause(0.5)
        assert told(app) == []
        await press(pilot, "escape")
        await until(pilot, lambda: told(app) == ["Written: a report."], "told afterwards")


async def test_a_pitch_of_somebody_else_need_not_be_void() -> None:
    link = Operated()
    link.show(snapshot())
    link.feed(session(3))
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("v")
        await settle(pilot)
        assert "Thrown by somebody else? Esc, then a" in shown(app)
        assert not any("pitcher" in reason for reason in VOID_REASONS)
        await pilot.press("escape", "a")
        await settle(pilot)
        assert "Who threw pitch 3?" in shown(app)
