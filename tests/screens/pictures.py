"""Pictures of screens, taken when nothing moves any more; compared with ones somebody looked at."""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable
from typing import Protocol

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

SIZES = [(80, 24), (120, 40)]
at_sizes = pytest.mark.parametrize("size", SIZES, ids=[f"{w}x{h}" for w, h in SIZES])
_DEADLINE_S = 30.0
#: So many times the screen must come out the same before it is taken.
_STILL = 3

Look = Callable[[Pilot[None]], Awaitable[None]]


class Compare(Protocol):
    """The fixture of pytest-textual-snapshot."""

    def __call__(
        self,
        app: object,
        press: list[str] = ...,
        terminal_size: tuple[int, int] = ...,
        run_before: Look | None = ...,
    ) -> bool:
        """Draw the app and compare."""
        ...


def shown(pilot: Pilot[None]) -> str:
    """Everything that stands on the screen in front, as text."""
    strips = pilot.app.screen._compositor.render_strips()
    return "\n".join(strip.text for strip in strips)


def seen(*words: str, keys: tuple[str, ...] = (), begin: Look | None = None) -> Look:
    """Return what is done before a picture.

    ``begin`` comes first, then ``keys`` one by one; then it waits until all
    ``words`` stand on the screen in front and nothing on it changes.
    """

    async def look(pilot: Pilot[None]) -> None:
        await pilot.pause()
        if begin is not None:
            await begin(pilot)
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        await stands(pilot, *words)

    return look


async def stands(pilot: Pilot[None], *words: str) -> None:
    """Wait until all ``words`` stand on the screen in front and nothing on it changes."""
    deadline = time.monotonic() + _DEADLINE_S
    before, same = "", 0
    while same < _STILL:
        for field in pilot.app.screen.query(Input).results(Input):
            field.cursor_blink = False  # else the picture would depend on the moment
        await pilot.pause()
        text = shown(pilot)
        flat = " ".join(text.split())
        same = same + 1 if text == before and all(word in flat for word in words) else 0
        before = text
        assert time.monotonic() < deadline, f"never: {words} in\n{text}"
