"""Driving the review and reading its screen."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

import pytest
from textual.pilot import Pilot

from analysis.sessions.stored import StoredSession
from tests.review.invented_sessions import curves as with_curves
from tui.commands import review as review_command
from tui.commands.main import main
from tui.review.app import ReviewApp
from tui.units import System, Units

SIZES = [(80, 24), (120, 40), (200, 60)]
SI = Units(System.SI)


def review(*sessions: StoredSession, curves: bool = True, look: str = "dark") -> ReviewApp:
    """Return the review of ``sessions``; their curves are there at once, or not at all."""
    app = ReviewApp(sessions, SI, look, clock=lambda: 42, read_curves=False)
    if curves:
        for sitting in app.desk.sittings:
            sitting.take_curves(with_curves(sitting.session), ())
    return app


def opened_by(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> ReviewApp:
    """Return the review that the command opens, without running it."""
    seen: list[ReviewApp] = []

    def look(open_app: Callable[[], AbstractAsyncContextManager[ReviewApp]]) -> None:
        async def run() -> None:
            async with open_app() as app:
                seen.append(app)

        asyncio.run(run())

    monkeypatch.setattr(review_command, "run_screen", look)
    assert main(["review", *arguments]) == 0
    (app,) = seen
    return app


def shown(app: ReviewApp) -> str:
    """Everything that stands on the screen, as text."""
    return "\n".join(strip.text for strip in app.screen._compositor.render_strips())


def line_with(app: ReviewApp, part: str) -> str:
    """Return the one line on the screen that holds ``part``."""
    lines = [line for line in shown(app).splitlines() if part in line]
    assert len(lines) == 1, f"{part!r} is in {len(lines)} lines of\n{shown(app)}"
    return lines[0]


def told(app: ReviewApp) -> list[str]:
    """Return the messages that were put up and are still there, oldest first."""
    return [notification.message for notification in app._notifications]


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys and let the screen draw."""
    await pilot.press(*keys)
    await pilot.pause()
    await pilot.pause()


async def until(pilot: Pilot[None], true: Callable[[], bool], what: str) -> None:
    """Wait for a condition, at most 30 s."""
    deadline = time.monotonic() + 30.0
    while not true():
        assert time.monotonic() < deadline, f"never: {what}"
        await asyncio.sleep(0.01)
        await pilot.pause()
    await pilot.pause()
