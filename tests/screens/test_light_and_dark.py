"""A screen that was turned light or dark looks like one that was so from the beginning."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from textual.app import App
from textual.pilot import Pilot

from stream.files import load_layout
from stream.monitor.playback import Part, Playback
from stream.monitor.view import LocalLink
from stream.recording.reader import Recording
from stream.recording.replay import setup_of
from stream.snapshot import CheckNow, CheckStepNow, Level, Sentence, StepState
from tests.replay_screen.test_replay_screen import recording, settle
from tests.review.driving import review
from tests.review.invented_sessions import pitches as reviewed
from tests.review.invented_sessions import stored
from tests.screens.invented import Operated, session, snapshot
from tests.study.test_study_screen import answered, pitches
from tui.app import MoundfeedApp
from tui.board import FeedHistory
from tui.looking import LookingApp
from tui.replaying import ReplayApp
from tui.study.app import StudyApp
from tui.units import Units

__all__ = ["pitches", "recording"]

SIZE = (120, 40)
#: Character, colour, ground.
Cell = tuple[str, str | None, str | None]


def cells(app: App[None]) -> list[list[Cell]]:
    """Return every cell of the screen in front, a list a row."""
    return [
        [
            (sign, _name(segment.style and segment.style.color), _name(
                segment.style and segment.style.bgcolor
            ))
            for segment in strip
            for sign in segment.text
        ]
        for strip in app.screen._compositor.render_strips()
    ]  # fmt: skip


def _name(colour: object) -> str | None:
    return None if colour is None else str(getattr(colour, "triplet", colour))


async def rest(pilot: Pilot[None]) -> None:
    """Wait until the screen comes out the same three times."""
    before, same = cells(pilot.app), 0
    while same < 3:
        await pilot.pause(0.02)
        now = cells(pilot.app)
        same = same + 1 if now == before else 0
        before = now


def live(look: str, app_of: Callable[..., MoundfeedApp] = MoundfeedApp) -> MoundfeedApp:
    link = Operated()
    steps = [CheckStepNow("Known mass: weight, signs, place", StepState.NOW)]
    now = CheckNow(False, 1, steps, "Put the mass on the spot.", 0.4, None, [], 20.0, (1.8, 0.3))
    warning = Sentence(Level.WARNING, "zero_moved", "The zero moved.")
    link.show(msgspec.structs.replace(snapshot(sentences=(warning,)), checking=now))
    link.feed(session(12))
    return app_of(link, load_layout("two-plates"), look=look)


def steady(app: MoundfeedApp) -> None:
    """As long as what comes is what was there, the seconds that pass change no plot."""
    for _ in range(FeedHistory.SECONDS):
        app.remember()


async def begin(pilot: Pilot[None]) -> None:
    """Bring a screen to where there is something to see."""
    app = pilot.app
    if isinstance(app, MoundfeedApp):
        steady(app)
    if isinstance(app, ReplayApp):
        await settle(pilot)
        await pilot.press("space", "right")
        await settle(pilot)
    if isinstance(app, StudyApp):
        await answered(pilot, app)
        await pilot.press("ctrl+r")
        await answered(pilot, app)


async def both(
    app: App[None], keys: tuple[str, ...], turn: tuple[str, ...]
) -> tuple[list[list[Cell]], list[list[Cell]]]:
    """Return the cells after ``keys``, and those after the look was turned by ``turn``."""
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        await rest(pilot)
        begun = cells(app)
        await pilot.press(*turn)
        await rest(pilot)
        return begun, cells(app)


def differing(turned: list[list[Cell]], begun: list[list[Cell]]) -> list[str]:
    """Return the rows, by their text, in which two screens differ."""
    return [
        "".join(sign for sign, *_ in now)
        for now, then in zip(turned, begun, strict=True)
        if now != then
    ]


async def compare(
    app_of: Callable[[str], App[None]], keys: tuple[str, ...] = (), turn: tuple[str, ...] = ("l",)
) -> None:
    """See that an app turned to a look is the same as one begun in it, both ways."""
    dark, turned_light = await both(app_of("dark"), keys, turn)
    light, turned_dark = await both(app_of("light"), keys, turn)
    assert differing(turned_light, light) == []
    assert differing(turned_dark, dark) == []


@pytest.mark.parametrize("keys", [(), ("d",), ("k",)], ids=["pitch", "deck", "check"])
async def test_live(keys: tuple[str, ...]) -> None:
    await compare(live, keys)


async def test_a_screen_that_is_not_in_sight() -> None:
    await compare(live, ("d",), ("d", "l", "d"))


async def test_looking_on() -> None:
    await compare(lambda look: live(look, LookingApp), ("d",))


@pytest.mark.parametrize("keys", [(), ("d",)], ids=["pitch", "deck"])
async def test_a_replay_that_stands(recording: Recording, keys: tuple[str, ...]) -> None:
    def app_of(look: str) -> ReplayApp:
        times = [packet.received_ns for packet in recording.packets()]
        setup = setup_of(recording)
        part = Part(recording, setup, times[0], max(times))
        playback = Playback([part], LocalLink(), clock=lambda: 0)
        return ReplayApp(playback, setup.layout, setup.roster, Units(), look)

    await compare(app_of, keys)


@pytest.mark.parametrize("pane", ["1", "2", "3", "4", "5"])
async def test_review(tmp_path: Path, pane: str) -> None:
    tuesday = stored(tmp_path / "tuesday", reviewed(12))
    created = "2031-05-08T15:00:00+00:00"
    thursday = stored(tmp_path / "thursday", reviewed(9, seed=8), created=created)
    keys = ("3", "shift+left", pane)
    await compare(lambda look: review(tuesday, thursday, look=look), keys)


async def test_study(pitches: Path) -> None:
    await compare(lambda look: StudyApp([pitches], look=look), turn=("ctrl+l",))
