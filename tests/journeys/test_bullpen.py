"""A bullpen of twenty pitches on the screen: two pitchers, a void, a note, a speed by hand.

The real core is behind the real screen; an invented session is fed second by
second, and the operator presses keys when something happens on the mound.
"""

from __future__ import annotations

from collections.abc import Iterator

from textual.pilot import Pilot

from simulators.scenario import Plan
from simulators.timeline import RATE_HZ
from stream.actions import Action, encode_action
from stream.monitor.view import LocalLink
from stream.outputs import Fault
from stream.wire import Packet, TopicKind, topic
from tests.core.mounds import SOURCE, Session, force_packet, session
from tests.screens.test_pitch_screen import answer, line, settle, shown
from tui.app import MoundfeedApp

BULLPEN = Plan(seed=31, pitches=20, pitchers=2, quick=True, traffic=0.3, things=0.0)
SECOND = round(RATE_HZ)


class Bullpen:
    """The mound, its core and the link to the screen, in one process."""

    def __init__(self, made: Session) -> None:
        self.made = made
        self.core = made.pipeline()
        self.link = LocalLink(SOURCE, self._act, clock=lambda: 0.0)
        self.now_ns = 0

    def seconds(self) -> Iterator[float]:
        """Feed one second after the other; yield the time of the session, s."""
        for first in range(0, len(self.made.samples), SECOND):
            packet = force_packet(first, self.made.samples[first : first + SECOND])
            self.now_ns = packet.received_ns
            self.link.feed(self.core.receive(packet))
            self.link.show(self.core.snapshot(self.now_ns))
            yield (first + SECOND) / RATE_HZ

    def _act(self, action: Action) -> str | None:
        packet = Packet(topic(SOURCE, TopicKind.OPERATOR), encode_action(action), self.now_ns)
        outputs = self.core.receive(packet)
        self.link.feed(outputs)
        self.link.show(self.core.snapshot(self.now_ns))
        return next((output.say for output in outputs if isinstance(output, Fault)), None)


async def press(pilot: Pilot[None], *keys: str) -> None:
    await pilot.press(*keys)
    await settle(pilot)


async def test_a_bullpen_of_twenty_pitches() -> None:
    bullpen = Bullpen(session(BULLPEN))
    scenario = bullpen.made.scenario
    changes = list(scenario.chosen[1:])
    app = MoundfeedApp(
        bullpen.link,
        bullpen.made.layout,
        scenario.roster,
        clock=lambda: bullpen.now_ns,
    )
    told: set[int] = set()
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        assert "No pitch yet." in shown(app)
        for time_s in bullpen.seconds():
            while changes and changes[0].time <= time_s:
                await press(pilot, "p", *changes.pop(0).pitcher, "enter")
            newest = max((v.record.number for v in bullpen.link.pitches), default=0)
            if newest in told or not newest:
                continue
            told.add(newest)
            await settle(pilot)
            assert answer(app, "verdict").foot == "COUNTED"
            if newest == 4:
                await press(pilot, "v", "enter")
                assert answer(app, "verdict").foot == "VOID"
            elif newest == 6:
                await press(pilot, "n", *"new grip", "enter")
            elif newest == 8:
                await press(pilot, "s", *"82.0", "enter")
                assert answer(app, "speed_mps").text == "82.0"
            elif newest == 9:
                await press(pilot, "v", "enter")
                await press(pilot, "u")  # the wrong pitch: taken back
                assert answer(app, "verdict").foot == "COUNTED"
        bullpen.link.feed(bullpen.core.finish())
        await settle(pilot)
        app.action_units()
        await settle(pilot)
        assert answer(app, "verdict").foot == "COUNTED"
        assert "like" in line(app, "sentence").lower() or "usual" in line(app, "sentence")

    records = [view.record for view in bullpen.link.pitches]
    assert [r.number for r in records] == list(range(1, 21))
    assert len(records) == len(scenario.pitches)
    turns = [[c for c in scenario.chosen if c.time < t.contact][-1] for t in scenario.pitches]
    assert [r.pitcher for r in records] == [turn.pitcher for turn in turns]
    assert [r.number for r in records if "void" in r.flags] == [4]
    assert records[5].note == "new grip"
    assert round((records[7].speed_mps or 0.0) / 0.44704, 3) == 82.0
