"""The replay's screen: plainly not live, and its keys."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from stream.monitor.playback import Part, Playback
from stream.monitor.view import LocalLink
from stream.outputs import (
    Fault,
    FootContact,
    Gap,
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Pitch,
    PitchChanged,
    StreamStarted,
    UnpairedSpeed,
    ZeroLearnt,
)
from stream.recording.reader import Recording, read_recording
from stream.recording.replay import setup_of
from stream.wire import NS
from tests.screens.invented import record, traces
from tests.screens.test_pitch_screen import line, shown
from tui.commands.main import main
from tui.replay_words import clock, output_words, speed_words
from tui.replaying import ReplayApp
from tui.screens.jump import JumpDialog, read_place
from tui.units import Units


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    path = tmp_path_factory.mktemp("screen") / "made.mcap"
    arguments = ["--pitches", "2", "--quick", "--seed", "3", "--pitchers", "1", "--no-traffic"]
    assert main(["simulate", "--to", str(path), *arguments]) == 0
    return read_recording(path)


def app_of(recording: Recording) -> ReplayApp:
    times = [packet.received_ns for packet in recording.packets()]
    setup = setup_of(recording)
    part = Part(recording, setup, times[0], max(times))
    playback = Playback([part], LocalLink(), clock=lambda: 0)
    return ReplayApp(playback, setup.layout, setup.roster, Units(), "dark")


async def settle(pilot: Pilot[None]) -> None:
    """Let the playback do what the keys asked, and the screen take it."""
    app = pilot.app
    assert isinstance(app, ReplayApp)
    await pilot.pause()
    app.playback.turn()
    while app.playback.seeking is not None:
        app.playback.turn()
    app.playback.show()
    app.pull()
    await pilot.pause()


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_it_is_plain_that_this_is_a_replay(
    recording: Recording, size: tuple[int, int]
) -> None:
    app = app_of(recording)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        top = line(app, "feed")
        assert top.startswith(" ▶ REPLAY, NOT LIVE · invented ")
        assert re.search(r"0:00 of \d:\d\d · playing · 1x speed", top)
        await pilot.press("right")
        await settle(pilot)
        top = line(app, "feed")
        assert top.startswith(" ■ REPLAY, NOT LIVE ")
        assert "paused · at pitch 1" in top
        assert "PITCH 1" in shown(app)
        for screen in ("d", "d"):
            assert "FEED LIVE" not in shown(app)
            await pilot.press(screen)
            await settle(pilot)
            assert "REPLAY, NOT LIVE" in shown(app)
        assert "q Quit" in shown(app), "all keys fit"
        assert "Void" not in shown(app), "nothing can be changed"


async def test_keys_of_the_player(recording: Recording) -> None:
    app = app_of(recording)
    playback = app.playback
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("space")
        assert playback.paused
        await pilot.press("space")
        assert not playback.paused
        await pilot.press("plus", "plus", "minus", "equals_sign")
        assert playback.speed == 4.0
        await pilot.press("right")
        await settle(pilot)
        await pilot.press("e")
        await settle(pilot)
        assert playback.paused
        at = playback.place_ns
        await pilot.press("left")
        await settle(pilot)
        assert playback.place_ns == at - 10 * NS
        await pilot.press("j")
        await pilot.pause()
        assert isinstance(app.screen, JumpDialog)
        await pilot.press(*"nonsense", "enter")
        await pilot.pause()
        assert "Write minutes:seconds" in shown(app)
        app.screen.query_one(Input).value = ""
        await pilot.press(*"0: 05", "left", "left", "left", "backspace", "enter")
        await pilot.pause()
        assert isinstance(app.screen, JumpDialog), "arrows and space belong to the dialog"
        app.screen.query_one(Input).value = ""
        await pilot.press(*"0:05", "enter")
        await settle(pilot)
        assert playback.place_ns == 5 * NS


async def test_feed_plots_go_by_the_recordings_seconds(recording: Recording) -> None:
    app = app_of(recording)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.playback.jump(20 * NS)
        await settle(pilot)
        delays = list(app.board.history.latency_ms)
        assert [math.isnan(d) for d in delays[-20:]] == [True] * 19 + [False]
        app.playback.jump(2 * NS)
        await settle(pilot)
        later = list(app.board.history.latency_ms)[:-1]
        assert all(math.isnan(d) for d in later), "back: nothing of later"


@pytest.mark.parametrize(
    ("text", "place_s"),
    [("90", 90), ("1:30", 90), ("1:02:03", 3723), ("+30", 130), ("-30,5", 69.5), (" 0:05 ", 5)],
)
def test_times_that_can_be_written(text: str, place_s: float) -> None:
    assert read_place(text, 100 * NS) == round(place_s * NS)


@pytest.mark.parametrize("text", ["", "x", "1:2:3:4", "--3", "1.2.3", "1e5", "٣"])
def test_times_that_cannot(text: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(text)}$"):
        read_place(text, 0)


def test_words() -> None:
    assert [clock(s * NS) for s in (0, 59, 60, 3599, 3600, 36061)] == [
        "0:00", "0:59", "1:00", "59:59", "1:00:00", "10:01:01",
    ]  # fmt: skip
    assert speed_words(0.5, Units(decimal=",")) == "0,5x speed"
    assert speed_words(math.inf, Units()) == "as fast as it goes"
    step_off = NotCountedRecord("mound-a", "s", NotCountedReason.STEP_OFF, 1.0, "")
    words = {
        output_words(output, Units())
        for output in (
            FootContact("mound-a", "s", 1.0, 2, 880.0),
            Pitch(record(7), traces()),
            PitchChanged(record(7)),
            NotCounted(step_off),
            UnpairedSpeed("mound-a", 1, 30.0),
            Gap("mound-a", "s", 1, 12),
            StreamStarted("mound-a", "s", 0, 200.0, 12, True),
            ZeroLearnt("mound-a", 1, 3.0, "It moved."),
            Fault("mound-a", "stalled", "It stopped.\x1b[2J"),
        )
    }
    assert words == {
        "foot contact",
        "pitch 7",
        "a change of pitch 7",
        "a movement not counted (step-off)",
        "a ball speed that belongs to no pitch",
        "a gap of 12 frames",
        "a restart of the device",
        "It moved.",
        "It stopped.\N{REPLACEMENT CHARACTER}[2J",
    }


def test_a_screen_needs_a_terminal(
    recording: Recording, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(recording.path)
    for arguments, says in (
        ([path, "--screen"], "needs a terminal"),
        ([path, "--screen", "--to", "tcp://127.0.0.1:1"], "give one of them"),
        ([path, "--screen", "--jsonl", str(tmp_path / "o")], "without --screen and --to"),
        ([path, "--speed", "2"], "--speed is for --screen or --to"),
    ):
        assert main(["replay", *arguments]) == 2
        error = capsys.readouterr().err
        assert says in error
        assert error.count("\n") == 1
    with pytest.raises(SystemExit):
        main(["replay", path, "--speed", "0"])
    assert "'0' is not a speed" in capsys.readouterr().err
