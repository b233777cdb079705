"""The operator's screen: to scale, live, and in words."""

from __future__ import annotations

import msgspec
import pytest

from stream.files import load_layout
from stream.monitor.view import LocalLink
from stream.snapshot import (
    CheckFound,
    CheckMade,
    FeedState,
    Level,
    Outcome,
    PlatformLoad,
    RecordingNow,
    Sentence,
    ZeroNow,
)
from tests.screens.invented import LAYOUTS, Operated, snapshot
from tests.screens.test_pitch_screen import SIZES, settle, shown
from tui.app import MoundfeedApp
from tui.units import System, Units
from tui.widgets.deck_plan import CELL_ASPECT, RUBBER_M, RUBBER_SIGN, DeckPlan, scale_for


@pytest.mark.parametrize("columns", [40, 80, 130])
def test_the_plan_is_to_scale(columns: int) -> None:
    deck = load_layout("two-plates").deck
    scale = scale_for(deck, columns, 60)
    per_column = (deck.front - deck.back) / (scale.columns - 1)
    per_row = 2 * deck.half_width / (scale.rows - 1)
    # 120 in x 60 in; a row is as high as CELL_ASPECT columns are wide, to half a row.
    assert per_row / per_column == pytest.approx(CELL_ASPECT, rel=0.5 / (scale.rows - 1) + 0.01)
    assert scale.column(deck.back) == 0
    assert scale.column(deck.front) == scale.columns - 1
    assert scale.row(deck.half_width) == 0
    assert scale.row(-deck.half_width) == scale.rows - 1


def test_the_rubber_is_that_of_the_rule_book() -> None:
    # Official Baseball Rules 2.04: a rectangular slab 24 inches by 6 inches; 1 in = 0.0254 m.
    assert pytest.approx((6 * 0.0254, 24 * 0.0254)) == RUBBER_M


async def deck_of(link: LocalLink, layout: str, size: tuple[int, int], units: Units) -> str:
    app = MoundfeedApp(link, load_layout(layout), units=units)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        link.show(snapshot(moment=0.4))
        await settle(pilot)
        return shown(app)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("layout", LAYOUTS)
async def test_every_layout_at_every_size(layout: str, size: tuple[int, int]) -> None:
    link = Operated()
    link.show(snapshot())
    text = await deck_of(link, layout, size, Units(System.SI))
    assert all(len(row) == size[0] for row in text.split("\n"))
    for part in (
        "home plate ▶",
        "first-base side",
        "FEED LIVE",
        "rate",
        "push-off side",
        RUBBER_SIGN,
    ):
        assert part in text
    assert ("✚ centre of pressure" in text) == (layout != "tiled")


async def test_loads_and_centres_of_pressure_stand_where_they_are() -> None:
    layout = load_layout("two-plates")
    link = Operated()
    link.show(snapshot())
    app = MoundfeedApp(link, layout, units=Units(System.SI))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        plan = app.screen.query_one(DeckPlan)
        loads = [
            PlatformLoad("rear", 0.0, 0.0, 4.0, None, None),
            PlatformLoad("front", 0.0, 0.0, 812.0, 1.5, -0.4),
        ]
        link.show(msgspec.structs.replace(snapshot(), platforms=loads))
        await settle(pilot)
        rows = plan.text.split("\n")
        assert "812 N" in plan.text
        crosses = [(r, row.index("✚")) for r, row in enumerate(rows[:-1]) if "✚ centre" not in row
                   and "✚" in row]  # fmt: skip
        scale = scale_for(layout.deck, plan.size.width, plan.size.height - 2)
        left = (plan.size.width - scale.columns) // 2
        assert crosses == [(1 + scale.row(-0.4), left + scale.column(1.5))]


async def test_tiles_show_their_load() -> None:
    link = Operated()
    loads = [PlatformLoad(f"r{r:02d}c{c}", 0.0, 0.0, 0.0, None, None)
             for r in range(1, 11) for c in range(1, 6)]  # fmt: skip
    loads[12] = PlatformLoad("r03c3", 0.0, 0.0, 655.0, None, None)
    link.show(msgspec.structs.replace(snapshot(), platforms=loads))
    app = MoundfeedApp(link, load_layout("tiled"), units=Units(System.SI))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        text = app.screen.query_one(DeckPlan).text
        assert "655" in text
        assert "▓" in text


async def test_trouble_is_named_with_what_to_do() -> None:
    link = Operated()
    said = (
        Sentence(Level.INFO, "a", "The zero was learnt."),
        Sentence(Level.ALARM, "b", "Channel 3 does not move: look at its cable."),
    )
    link.show(
        msgspec.structs.replace(
            snapshot(
                FeedState.LIVE,
                sentences=said,
                lost_frames=7,
                gaps=2,
                rejected={"not_finite": 3, "unreadable": 0},
            ),
            recording=RecordingNow(True, "/x/r.mcap", 100, 0.2, "The disk is full."),
        )
    )
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(200, 60)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        text = shown(app)
        for part in (
            "✖  Channel 3 does not move",
            "The zero was learnt",
            "7 in 2 gaps",
            "3 (not_finite 3)",
            "The disk is full.",
            "RECORDING TROUBLE",
        ):
            assert part in text
        assert text.rindex("Channel 3") < text.rindex("The zero was learnt")


async def test_the_last_set_up_check_with_what_did_not_pass_first() -> None:
    found = [
        CheckFound("rate", "pass", 199.98, "Hz", "fine"),
        CheckFound("mains", "fail", 14.2, "N", "Hum on Fz. Move the cables."),
        CheckFound("weight", "not_run", None, "", "no mass"),
    ]
    link = Operated()
    made = CheckMade(False, "J. D.", 720.0, "did not pass", found, Outcome.FAILED)
    link.show(msgspec.structs.replace(snapshot(), checked=made))
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(120, 60)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        text = shown(app)
        for part in (
            "✖  did not pass (J. D., 12 min ago)",
            "✖  FAIL mains: Hum on Fz. Move the cables.",
            "✓  pass: sample rate 200.0 Hz",
            "·  not run: weight",
        ):
            assert part in text
        assert text.index("FAIL mains") < text.index("rate 200.0 Hz")


async def test_without_a_set_up_check_the_screen_says_so_and_how_to_make_one() -> None:
    link = Operated()
    link.show(snapshot())
    app = MoundfeedApp(link, load_layout("two-plates"))
    async with app.run_test(size=(120, 60)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        assert "not made yet; k makes it" in shown(app)
        assert "k Check" in shown(app)


async def test_who_took_the_zero_and_how_far_it_has_moved() -> None:
    zero = ZeroNow("learnt", 4.0, -2.1, -0.0024, -2.1, by="J. D.", taken_s=1500.0)
    link = Operated()
    link.show(msgspec.structs.replace(snapshot(), zero=zero))
    app = MoundfeedApp(link, load_layout("two-plates"), units=Units(System.SI))
    async with app.run_test(size=(120, 60)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        assert "taken by J. D. 25 min ago" in shown(app)
        assert "-2.1 N, -0.24 % of weight" in shown(app)


async def test_going_back_to_the_pitch() -> None:
    link = Operated()
    link.show(snapshot())
    app = MoundfeedApp(link)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("d")
        await settle(pilot)
        assert "WHAT TO DO" in shown(app)
        assert "the layout is not known here" in shown(app)
        await pilot.press("d")
        await settle(pilot)
        assert "PUSH-OFF" in shown(app)
