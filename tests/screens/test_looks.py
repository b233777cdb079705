"""Pictures of the screens, compared with those that somebody looked at."""

from __future__ import annotations

from typing import Protocol

import pytest

from stream.files import load_layout
from tests.screens.invented import Operated, not_counted, pitch, session, snapshot
from tui.app import MoundfeedApp


class Compare(Protocol):
    """The fixture of pytest-textual-snapshot."""

    def __call__(
        self, app: object, press: list[str] = ..., terminal_size: tuple[int, int] = ...
    ) -> bool:
        """Draw the app and compare."""
        ...


def app_of(look: str = "dark", layout: str = "two-plates", after: bool = False) -> MoundfeedApp:
    link = Operated()
    link.show(snapshot())
    link.feed(session(20))
    link.feed([pitch(21, push=150.0, land=262.0)])
    if after:
        link.feed([not_counted(21)])
    return MoundfeedApp(link, load_layout(layout), look=look)


def test_the_coach_sees_a_pitch_unlike_the_others(snap_compare: Compare) -> None:
    assert snap_compare(app_of(), terminal_size=(80, 24))


def test_the_coach_sees_a_step_off_in_daylight(snap_compare: Compare) -> None:
    assert snap_compare(app_of("light", after=True), terminal_size=(120, 40))


def test_without_colour(snap_compare: Compare, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = app_of()
    assert snap_compare(app, terminal_size=(120, 40))
