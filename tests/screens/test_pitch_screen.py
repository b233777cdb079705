"""The coach's screen, driven by keys and looked at."""

from __future__ import annotations

import numpy as np
import pytest
from textual.pilot import Pilot
from textual.widgets import Footer

from analysis.curves import Component
from stream.monitor.view import PitchView
from stream.outputs import Traces
from stream.snapshot import DeckState, FeedState, Level, Sentence
from tests.screens.invented import (
    EVENTS_S,
    Operated,
    not_counted,
    pitch,
    record,
    session,
    snapshot,
    traces,
)
from tui.app import MoundfeedApp
from tui.present import plot
from tui.widgets.big_panel import CROSS, TICK, Answer, BigPanel, Mood
from tui.widgets.line_text import LineText
from tui.widgets.session_table import SessionTable
from tui.widgets.traces import TracesPlot

SIZES = [(80, 24), (120, 40), (200, 60)]


def link_with(pitches: int) -> Operated:
    link = Operated()
    link.show(snapshot())
    link.feed(session(pitches))
    return link


async def settle(pilot: Pilot[None]) -> None:
    """Let the screen take what the link knows."""
    app = pilot.app
    assert isinstance(app, MoundfeedApp)
    await pilot.pause()
    app.pull()
    await pilot.pause()


def answer(app: MoundfeedApp, name: str) -> Answer:
    return app.screen.query_one(f"#{name}", BigPanel).answer


def line(app: MoundfeedApp, name: str) -> str:
    return app.screen.query_one(f"#{name}", LineText).text


def shown(app: MoundfeedApp) -> str:
    """Everything that stands on the screen, as text."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text for strip in strips)


@pytest.mark.parametrize("size", SIZES)
async def test_one_glance_after_a_pitch(size: tuple[int, int]) -> None:
    link = link_with(20)
    app = MoundfeedApp(link)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        link.feed([pitch(21, push=166.0, land=295.0, speed_mps=40.2336)])
        await settle(pilot)
        assert answer(app, "verdict").text == TICK
        assert answer(app, "verdict").foot == "COUNTED"
        assert answer(app, "drive_peak_bw").text == "166"
        assert answer(app, "landing_peak_bw").text == "295"
        assert answer(app, "landing_peak_bw").mood is Mood.STRONG
        assert "above usual" in answer(app, "landing_peak_bw").foot
        assert answer(app, "speed_mps").text == "90.0"
        assert line(app, "sentence").strip().startswith("Landing")
        text = shown(app)
        for part in ("FEED LIVE", "PITCH 21", "PUSH-OFF", "BALL SPEED", "≠ unlike", "Help"):
            assert part in text


@pytest.mark.parametrize("size", SIZES)
async def test_numbers_are_tall_enough_for_five_metres(size: tuple[int, int]) -> None:
    # ISO 9241-303: at least 20 minutes of arc, from 5 m 29 mm: 0.176 of the 165 mm that the
    # screen of a 13 inch laptop is high (from memory).
    app = MoundfeedApp(link_with(3))
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        for name in ("drive_peak_bw", "landing_peak_bw", "speed_mps"):
            panel = app.screen.query_one(f"#{name}", BigPanel)
            inked = [y for y in range(panel.size.height) if "█" in panel.render_line(y).text]
            assert len(inked) / size[1] > 0.176


async def test_a_movement_that_was_not_counted_is_said_with_its_reason() -> None:
    link = link_with(8)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        link.feed([not_counted(8)])
        await settle(pilot)
        assert answer(app, "verdict").text == CROSS
        assert answer(app, "verdict").foot == "NOT COUNTED"
        assert "stepped off the rubber" in line(app, "sentence")
        assert answer(app, "drive_peak_bw").foot == "pitch 8, before"
        link.feed([pitch(9)])
        await settle(pilot)
        assert answer(app, "verdict").foot == "COUNTED"


async def test_what_was_not_measured_says_so() -> None:
    link = link_with(8)
    link.feed([pitch(9, metrics={"drive_peak_bw": 160.0}, speed_mps=None)])
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert answer(app, "landing_peak_bw").text == "\N{EM DASH}"
        assert answer(app, "landing_peak_bw").foot == "not measured"
        assert answer(app, "speed_mps").foot == "none yet; s to enter"


async def test_looking_back_and_home_again() -> None:
    link = link_with(12)
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("down", "down")
        await settle(pilot)
        assert answer(app, "verdict").heads == ("PITCH 10",)
        assert "Looking back at pitch 10" in line(app, "message")
        await pilot.press("home")
        await settle(pilot)
        assert answer(app, "verdict").heads == ("PITCH 12",)
        await pilot.click(SessionTable, offset=(6, 6))
        await settle(pilot)
        assert answer(app, "verdict").heads == ("PITCH 8",)
        link.feed([pitch(13)])
        await settle(pilot)
        assert answer(app, "verdict").heads == ("PITCH 13",)


async def test_curves_of_both_legs_with_their_names_and_events() -> None:
    app = MoundfeedApp(link_with(2))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        plot = app.screen.query_one("#curves", TracesPlot)

        def drawn() -> str:
            return "\n".join(plot.render_line(y).text for y in range(plot.size.height))

        for part in ("push-off", "landing", "foot contact", "push-off peak", "Whole force"):
            assert part in drawn()
        assert any(0x2801 <= ord(c) <= 0x28FF for c in drawn())
        await pilot.press("c")
        await settle(pilot)
        assert "Forward force" in drawn()


async def test_the_feed_in_words() -> None:
    link = Operated()
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert "CONNECTING" in line(app, "feed")
        link.show(snapshot(FeedState.WAITING, DeckState.UNKNOWN, pitcher=""))
        await settle(pilot)
        assert "NO FEED YET" in line(app, "feed")
        assert "switch the mound's device on" in line(app, "sentence")
        link.show(snapshot(pitcher=""))
        await settle(pilot)
        assert "FEED LIVE 200.0" not in line(app, "feed")
        assert "200.0 Hz · nothing lost" in line(app, "feed")
        assert "Press p to say who throws" in line(app, "sentence")
        link.show(snapshot(lost_frames=12, gaps=1))
        await settle(pilot)
        assert "12 frames lost in 1 gap" in line(app, "feed")
        link.show(snapshot(FeedState.STALLED, age_s=3.24))
        await settle(pilot)
        assert "FEED STOPPED" in line(app, "feed")
        assert "for 3.2 s" in line(app, "feed")
        alarm = Sentence(Level.ALARM, "disk", "The disk is full: free some space.")
        link.show(snapshot(sentences=(Sentence(Level.INFO, "i", "Quiet."), alarm)))
        await settle(pilot)
        assert "The disk is full" in line(app, "message")
        assert "✖" in line(app, "message")


async def test_nothing_is_lost_on_a_resize() -> None:
    app = MoundfeedApp(link_with(30))
    async with app.run_test(size=(200, 60)) as pilot:
        await settle(pilot)
        before = [answer(app, n) for n in ("verdict", "drive_peak_bw", "speed_mps")]
        for size in ((80, 24), (120, 40), (80, 24)):
            await pilot.resize_terminal(*size)
            await settle(pilot)
            text = shown(app)
            assert all(len(row) == size[0] for row in text.split("\n"))
            for part in ("PITCH 30", "COUNTED", "push-off", "foot contact", "usual", "q Quit"):
                assert part in text
        after = [answer(app, n) for n in ("verdict", "drive_peak_bw", "speed_mps")]
        assert [a.text for a in after] == [b.text for b in before]


async def test_units_and_look_by_key() -> None:
    app = MoundfeedApp(link_with(6))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("t")
        await settle(pilot)
        assert answer(app, "speed_mps").heads[0] == "BALL SPEED m/s"
        assert answer(app, "speed_mps").text.startswith("36.")
        await pilot.press("l")
        await settle(pilot)
        assert app.theme == "moundfeed-light"
        assert app.screen.query_one(Footer).display


async def test_names_from_outside_cannot_take_over() -> None:
    nasty = "[red]\x1b[2J\u202eP"
    link = Operated()
    link.show(snapshot(pitcher=nasty))
    link.feed([pitch(1, pitcher=nasty, note=nasty)])
    app = MoundfeedApp(link)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        text = shown(app)
        assert "\x1b" not in text
        assert "\u202e" not in text
        assert "[red]" in text


async def test_help_names_every_key() -> None:
    app = MoundfeedApp(link_with(1))
    async with app.run_test(size=(120, 60)) as pilot:
        await settle(pilot)
        await pilot.press("question_mark")
        await settle(pilot)
        text = shown(app)
        for part in ("Take the zero", "SI or US units", "licensed staff", "Undo", "unlike"):
            assert part in text
        await pilot.press("escape")
        await settle(pilot)
        assert "PITCH 1" in shown(app)


async def test_every_action_is_in_the_command_palette() -> None:
    app = MoundfeedApp(link_with(1))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        titles = [c.title for c in app.get_system_commands(app.screen)]
        assert "Void" in titles
        assert "Take the zero" in titles
        await pilot.press("ctrl+p")
        await pilot.pause()
        assert app.screen_stack[-1].__class__.__name__ == "CommandPalette"


@pytest.mark.parametrize("size", SIZES)
async def test_one_unit_is_written_one_way(size: tuple[int, int]) -> None:
    app = MoundfeedApp(link_with(6))
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        text = shown(app).split("\n")
        (heads,) = (row for row in text if "PUSH-OFF" in row and "LANDING" in row)
        assert heads.count("%BW") + heads.count("% body weight") == 2
        assert heads.count("%BW") in (0, 2)


def test_a_push_off_that_begins_long_before_leaves_the_curves_their_room() -> None:
    late = traces()
    time_s = np.arange(-5.0, 0.8, 0.005)
    nothing = np.zeros((len(time_s), 3))
    nowhere = np.full((len(time_s), 2), np.nan)
    long = Traces(0, 200.0, time_s, nothing, nothing, nowhere, nowhere)
    early = record(1, events_s={**EVENTS_S, "drive_onset": -4.47})
    for view, first in ((PitchView(early, long), -1.5), (PitchView(record(1), late), -0.77)):
        shown_plot = plot(view, Component.RESULTANT)
        assert shown_plot is not None
        assert shown_plot.time_range[0] == pytest.approx(first)
