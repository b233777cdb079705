"""The set-up check inside a mound's core: its zero in force and kept, and the same on replay."""

from __future__ import annotations

import numpy as np
import pytest

from stream.actions import CheckMove, GuideCheck, StartCheck, TakeZero, encode_action
from stream.monitor.words import of_check
from stream.outputs import CheckDone, Output, ZeroLearnt, ZeroSet
from stream.pipeline import Pipeline
from stream.snapshot import Level, Outcome
from stream.wire import Packet, TopicKind, WireError, topic
from tests.checks.bench import SPOT
from tests.screens.fed_mound import SOURCE, FedMound
from tui.check_words import made_lines, step_lines
from tui.units import System, Units


def start(mass_kg: float | None = 20.0, seconds: float = 2.0) -> StartCheck:
    spot = None if mass_kg is None else SPOT
    return StartCheck(
        source=SOURCE, t_ns=1, by="J. D.", mass_kg=mass_kg, at_m=spot, stand=False, seconds=seconds
    )


def guide(move: CheckMove) -> GuideCheck:
    return GuideCheck(source=SOURCE, t_ns=1, move=move)


async def checked() -> FedMound:
    """A mound after a check with a known mass, which has been taken away again."""
    mound = FedMound()
    mound.bear(2.0)
    assert await mound.act(start()) is None
    mound.bear(3.0)
    mound.bear(4.0, 20.0, SPOT)
    mound.bear(3.0)
    return mound


async def test_the_zero_of_the_check_is_in_force_and_says_who_took_it_when() -> None:
    mound = await checked()
    (report,) = mound.reports
    (zero,) = mound.zeros
    assert report.tare == zero.tare
    assert mound.latest is not None
    now = mound.latest.zero
    assert now.by == "J. D."
    assert now.taken_s == pytest.approx(4.75, abs=0.3)  # the check was done with the mass
    assert now.moved_n == pytest.approx(0.0, abs=0.5)
    assert mound.core.zero.reference is not None
    assert mound.core.zero.reference.tare == pytest.approx(zero.tare.values)


async def test_a_mass_that_lay_there_before_the_check_is_seen_when_it_is_put_on_again() -> None:
    mound = FedMound()
    mound.bear(3.0, 20.0, SPOT)  # learnt as a part of the zero
    assert await mound.act(start()) is None
    mound.bear(3.0)
    assert mound.latest is not None
    assert mound.latest.checking is not None
    assert mound.latest.checking.number == 2
    assert sum(p.fz for p in mound.latest.platforms) == pytest.approx(0.0, abs=2.0)
    mound.bear(1.0, 20.0, SPOT)
    assert not mound.latest.checking.done
    assert sum(p.fz for p in mound.latest.platforms) == pytest.approx(20.0 * 9.80665, rel=0.02)


@pytest.mark.parametrize(
    ("kg", "level", "says"),
    [
        # 0.25 and 0.5 % of a usual pitcher's 785 N are 2.0 and 3.9 N.
        (0.1, None, ""),
        (0.3, Level.WARNING, "not yet enough to matter"),
        (0.6, Level.WARNING, "it matters now. Empty the deck"),
    ],
)
async def test_a_zero_that_moved_is_told_before_it_matters(
    kg: float, level: Level | None, says: str
) -> None:
    mound = await checked()
    mound.bear(12.0, kg, SPOT)
    assert mound.latest is not None
    said = [s for s in mound.latest.sentences if s.key == "zero_moved"]
    if level is None:
        assert said == []
    else:
        assert [s.level for s in said] == [level]
        assert says in said[0].text
    assert mound.latest.zero.moved_n == pytest.approx(kg * 9.80665, abs=0.6)


async def test_a_bucket_put_down_and_taken_away_is_no_zero_that_moved() -> None:
    mound = await checked()
    for kg in (6.0, 0.0):
        for _ in range(120):
            mound.bear(0.1, kg, SPOT)
            mound.core.tick(mound.now_ns)
            mound.look()
            assert mound.latest is not None
            assert "zero_moved" not in {s.key for s in mound.latest.sentences}
        assert mound.latest is not None
        assert mound.latest.zero.load_n == pytest.approx(kg * 9.80665, abs=1.0)
        assert mound.latest.zero.moved_n == pytest.approx(0.0, abs=0.5)


async def test_a_zero_asked_for_is_kept_with_who_and_when_too() -> None:
    mound = await checked()
    await mound.act(TakeZero(source=SOURCE, t_ns=1, by="operator"))
    asked_ns = mound.now_ns
    mound.bear(3.0, 0.6, SPOT)
    tare = mound.zeros[-1].tare
    assert tare.by == "operator"
    assert tare.taken_ns is not None
    assert 0 < tare.taken_ns - asked_ns < 3_000_000_000
    assert len(mound.zeros) == 2
    mound.bear(8.0, 0.6, SPOT)
    assert len(mound.zeros) == 2  # what is learnt afterwards is nobody's purpose
    assert mound.latest is not None
    assert mound.latest.zero.moved_n == pytest.approx(0.0, abs=0.5)


def test_a_replay_makes_the_same_check_at_the_same_place() -> None:
    mound = FedMound()
    packets: list[Packet] = []
    receive = mound.core.receive

    def kept(packet: Packet) -> list[Output]:
        packets.append(packet)
        return receive(packet)

    mound.core.receive = kept  # type: ignore[method-assign]

    def act(action: StartCheck | GuideCheck) -> None:
        name = topic(SOURCE, TopicKind.OPERATOR)
        mound.outputs += mound.core.receive(Packet(name, encode_action(action), mound.now_ns))

    mound.bear(2.0)
    act(start())
    mound.bear(3.0)
    mound.bear(4.0, 20.0, SPOT)
    act(guide(CheckMove.BACK))
    mound.bear(4.0, 20.0, SPOT)
    again = Pipeline(SOURCE, mound.layout)
    outputs = [o for k in range(0, len(packets), 7) for o in again.receive_many(packets[k : k + 7])]
    made = [o for o in outputs if isinstance(o, CheckDone | ZeroSet)]
    assert made == [o for o in mound.outputs if isinstance(o, CheckDone | ZeroSet)]
    assert len(made) == 4
    assert again.tracker is not None
    assert mound.core.tracker is not None
    assert np.array_equal(again.tracker.zero.tare, mound.core.tracker.zero.tare)


async def test_a_session_without_a_passed_check_says_so() -> None:
    mound = FedMound()
    mound.bear(1.0)
    assert mound.latest is not None
    (said,) = of_check(mound.latest)
    assert said.level is Level.INFO
    assert "No set-up check was made for this session" in said.text
    await mound.act(start(None))
    assert mound.latest.checking is not None
    assert list(of_check(mound.latest)) == []  # it is being made
    mound.bear(0.5)
    mound.miss(40)
    mound.bear(4.0)
    await mound.act(guide(CheckMove.STOP))
    assert mound.latest is not None
    (said,) = of_check(mound.latest)
    assert said.level is Level.WARNING
    assert "did not pass (continuity)" in said.text
    passed = await checked()
    assert passed.latest is not None
    assert list(of_check(passed.latest)) == []


async def test_a_device_that_changes_its_channels_is_counted_and_ends_nothing() -> None:
    mound = FedMound()
    mound.bear(2.0)
    await mound.act(start())
    assert await mound.act(guide(CheckMove.TAKE)) is not None
    other = FedMound("tiled")
    taken: list[Packet] = []
    other.core.receive = lambda packet: taken.append(packet) or []  # type: ignore[method-assign,func-returns-value]
    other.bear(0.1)
    mound.core.receive(taken[0])
    mound.bear(3.0)
    assert mound.latest is not None
    assert mound.latest.checking is not None


@pytest.mark.parametrize(
    "change", [{"mass_kg": 0.0}, {"mass_kg": 5000.0}, {"seconds": 0.1}, {"gravity": 3.7}]
)
def test_what_no_check_can_be_made_with_is_refused(change: dict[str, float]) -> None:
    import msgspec

    from stream.actions import decode_action

    asked = msgspec.structs.replace(start(), **change)
    with pytest.raises(WireError):
        decode_action(encode_action(asked))


async def test_nothing_to_guide_is_said() -> None:
    mound = FedMound()
    mound.bear(1.0)
    assert await mound.act(guide(CheckMove.SKIP)) == (
        "No set-up check is running; start one first."
    )


def borne(mound: FedMound) -> float:
    """Vertical force that the picture shows on the whole deck, N."""
    assert mound.latest is not None
    return sum(p.fz for p in mound.latest.platforms)


@pytest.mark.parametrize("batch", [1, 7, 1000])
async def test_the_known_mass_stays_in_the_picture_while_the_check_runs_and_on_replay(
    batch: int,
) -> None:
    mound = FedMound()
    packets: list[Packet] = []
    receive = mound.core.receive

    def kept(packet: Packet) -> list[Output]:
        packets.append(packet)
        return receive(packet)

    mound.core.receive = kept  # type: ignore[method-assign]
    mound.bear(2.0)
    await mound.act(start(seconds=10.0))
    mound.bear(10.5)
    for _ in range(9):
        mound.bear(1.0, 20.0, SPOT)
        assert borne(mound) == pytest.approx(20.0 * 9.80665, abs=3.0)
    assert not [o for o in mound.outputs if isinstance(o, ZeroLearnt)][1:]  # the first one only
    await mound.act(guide(CheckMove.STOP))
    mound.bear(7.0, 20.0, SPOT)  # left lying there it is a thing like any other
    assert borne(mound) == pytest.approx(0.0, abs=3.0)
    again = Pipeline(SOURCE, mound.layout)
    parts = [packets[k : k + batch] for k in range(0, len(packets), batch)]
    assert [o for part in parts for o in again.receive_many(part)] == mound.outputs
    assert again.tracker is not None
    assert mound.core.tracker is not None
    assert np.array_equal(again.tracker.zero.tare, mound.core.tracker.zero.tare)


async def test_a_check_of_which_everything_was_skipped_is_not_passed() -> None:
    mound = FedMound()
    mound.bear(1.0)
    await mound.act(start())
    mound.bear(1.0)
    await mound.act(guide(CheckMove.SKIP))
    await mound.act(guide(CheckMove.SKIP))
    assert mound.latest is not None
    checking, made = mound.latest.checking, mound.latest.checked
    assert checking is not None
    assert checking.outcome is Outcome.UNFINISHED
    assert made is not None
    assert (made.ok, made.outcome) == (True, Outcome.UNFINISHED)
    assert mound.zeros == []
    await mound.act(guide(CheckMove.STOP))
    (said,) = of_check(mound.latest)
    assert said.level is Level.WARNING
    assert said.text.startswith("The set-up check was not finished: no zero was taken")
    assert "zero, noise, mains, drift, stuck, signs, weight, position" in said.text
    units = Units(System.SI)
    told = " ".join(text for line in step_lines(checking, units, 79) for text, _ in line)
    assert "Not finished: no zero was taken" in told
    assert "in force" not in told
    told = " ".join(text for line in made_lines(made, True, units, 200) for text, _ in line)
    assert "!   not finished: no zero was taken" in told
    assert "drift, stuck, signs, weight, position: it needs a steady stretch with nobody" in told
