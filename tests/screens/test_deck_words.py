"""The operator's words beside the deck: whole, of one moment with the deck, never read wrongly."""

from __future__ import annotations

import re

import msgspec
import pytest
from textual.pilot import Pilot

from stream.files import load_layout
from stream.snapshot import (
    CheckFound,
    CheckMade,
    DeckState,
    Level,
    Outcome,
    PlatformLoad,
    Sentence,
    Snapshot,
    ZeroNow,
)
from tests.screens.invented import Operated, snapshot
from tests.screens.test_pitch_screen import settle, shown
from tui.app import MoundfeedApp
from tui.widgets.deck_plan import RUBBER_SIGN, DeckPlan
from tui.widgets.line_text import LineText

ZERO = ZeroNow("taken", 190.0, -31.4, -0.0357, 280.0, by="J. Longname-Double", taken_s=4000.0)
MADE = CheckMade(
    True, "J. D.", 300.0, "passed", [CheckFound("rate", "pass", 200.0, "Hz", "")], Outcome.PASSED
)


def app_of(now: Snapshot) -> MoundfeedApp:
    link = Operated()
    link.show(now)
    return MoundfeedApp(link, load_layout("two-plates"))


async def on_the_deck(pilot: Pilot[None]) -> MoundfeedApp:
    app = pilot.app
    assert isinstance(app, MoundfeedApp)
    await settle(pilot)
    await pilot.press("d")
    for _ in range(3):
        await settle(pilot)
        app.pull()
    return app


def words(app: MoundfeedApp, widget: str = "facts") -> str:
    """Return a widget's words in one line."""
    return " ".join(app.screen.query_one(f"#{widget}", LineText).text.split())


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_no_fact_is_cut(size: tuple[int, int]) -> None:
    async with app_of(msgspec.structs.replace(snapshot(), zero=ZERO)).run_test(size=size) as pilot:
        app = await on_the_deck(pilot)
        told = words(app)
        assert "taken by J. Longname-Double 67 min ago" in told
        assert "moved since -7.1 lbf, -3.57 % of weight" in told
        assert "…" not in told


async def test_a_zero_whose_share_is_of_a_usual_weight_says_so() -> None:
    now = msgspec.structs.replace(snapshot(), zero=ZERO, body_weight_n=None)
    async with app_of(now).run_test(size=(120, 40)) as pilot:
        assert "-3.57 % of a usual weight" in words(await on_the_deck(pilot))


@pytest.mark.parametrize(
    ("load_n", "words_of_it"),
    [
        (280.0, "taken out 63 lbf that lay on the deck"),
        (-280.0, "put back 63 lbf that left the deck"),
        (0.3, ""),
        (-0.3, ""),
    ],
)
async def test_what_the_zero_takes_out_is_no_load_of_now(load_n: float, words_of_it: str) -> None:
    zero = msgspec.structs.replace(ZERO, load_n=load_n)
    async with app_of(msgspec.structs.replace(snapshot(), zero=zero)).run_test() as pilot:
        told = words(await on_the_deck(pilot))
        assert words_of_it in told
        assert ("on the deck" in told or "left the deck" in told) == bool(words_of_it)
        assert "load on it" not in told


async def test_what_is_below_is_said_and_scrolled_to() -> None:
    async with app_of(snapshot()).run_test(size=(80, 24)) as pilot:
        app = await on_the_deck(pilot)
        assert "RECORDING" not in shown(app)
        assert "▼ more below: ↓" in shown(app)
        await pilot.press("end")
        await pilot.pause(0.5)
        await settle(pilot)
        assert "SET-UP CHECK" in shown(app)
        assert "more below" not in shown(app)
    async with app_of(snapshot()).run_test(size=(120, 60)) as pilot:
        assert "more below" not in shown(await on_the_deck(pilot))


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40)])
async def test_every_load_has_its_unit_and_is_clear_of_the_rubber(size: tuple[int, int]) -> None:
    loads = [
        PlatformLoad("rear", 0.0, 0.0, 943.0, None, None),
        PlatformLoad("front", 0.0, 0.0, 0.0, None, None),
    ]
    now = msgspec.structs.replace(snapshot(), platforms=loads)
    async with app_of(now).run_test(size=size) as pilot:
        app = await on_the_deck(pilot)
        plan = app.screen.query_one(DeckPlan).text
        rear = " ".join(
            row[row.index("│") :].split("│")[1] for row in plan.split("\n") if "│" in row
        )
        assert " ".join(rear.replace(RUBBER_SIGN, " ").split()) == "rear 212 lbf"
        assert plan.count("lbf") == 2
        assert not re.search(rf"\d{RUBBER_SIGN}|{RUBBER_SIGN}\d", plan)


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40), (200, 60)])
async def test_every_tiles_load_is_clear_of_the_rubber_and_has_a_unit(
    size: tuple[int, int],
) -> None:
    layout = load_layout("tiled")
    loads = [PlatformLoad(p.name, 0.0, 0.0, 300.0, None, None) for p in layout.platforms]
    link = Operated()
    link.show(msgspec.structs.replace(snapshot(), platforms=loads))
    async with MoundfeedApp(link, layout).run_test(size=size) as pilot:
        app = await on_the_deck(pilot)
        plan = app.screen.query_one(DeckPlan)
        assert "67" in plan.text
        assert not re.search(rf"\d{RUBBER_SIGN}|{RUBBER_SIGN}\d", plan.text)
        assert "tiles' load, lbf" in plan.text
        await pilot.press("t")
        await settle(pilot)
        assert "tiles' load, N" in plan.text


async def test_words_deck_and_line_above_are_of_one_moment() -> None:
    async with app_of(snapshot()).run_test(size=(120, 40)) as pilot:
        app = await on_the_deck(pilot)
        link = app.board.link
        assert isinstance(link, Operated)
        people = Sentence(Level.WARNING, "two_people", "Two people seem to be on the deck.")
        for now in (
            snapshot(deck=DeckState.EMPTY),
            snapshot(deck=DeckState.DELIVERY, pitcher="P07"),
            msgspec.structs.replace(snapshot(), body_weight_n=700.0, pitches=4),
            snapshot(deck=DeckState.OCCUPIED, sentences=(people,)),
        ):
            link.show(now)
            app.pull()  # and no time for the words' own turn
            above = app.screen.query_one("#message", LineText).text
            told = words(app)
            deck = re.search(r"deck (.*?) throwing (\w+) body weight (.*?) pitches (\d)", told)
            assert deck is not None
            assert deck[1] in above
            assert f"throwing: {deck[2]}" in above
            assert f"body weight {deck[3]}" in above.replace("\xa0", " ")
            assert deck[4] == str(now.pitches)
            assert ("Two people" in above) == ("Two people" in words(app, "todo"))


@pytest.mark.parametrize("made", [None, MADE])
async def test_all_is_well_only_after_a_check(made: CheckMade | None) -> None:
    async with app_of(msgspec.structs.replace(snapshot(), checked=made)).run_test() as pilot:
        app = await on_the_deck(pilot)
        assert ("all is well" in words(app, "todo")) == (made is not None)
        assert ("No set-up check was made" in words(app, "todo")) == (made is None)
