"""A mound of invented readings behind a link: what is put on it goes through the real core."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stream.actions import Action, encode_action
from stream.checks.verdict import Report
from stream.monitor.view import LocalLink
from stream.monitor.words import of_check
from stream.outputs import CheckDone, Fault, Output, ZeroSet
from stream.pipeline import Pipeline
from stream.wire import ForceMessage, Packet, TopicKind, encode_force, topic
from tests.checks.bench import RATE, Array, layout, reads

SOURCE = "mound-a"
BLOCK = 10
NS = 1_000_000_000


class FedMound(LocalLink):
    """One mound; ``wire`` changes ideal readings (channels,) as wrong wiring does.

    Its time is the feed's: nothing waits for a clock.
    """

    def __init__(
        self,
        name: str = "two-plates",
        wire: Callable[[Array], Array] = lambda ideal: ideal,
        checked: Report | None = None,
    ) -> None:
        super().__init__(SOURCE, self._act, clock=lambda: 0.0)
        self.layout = layout(name)
        self.actions: list[Action] = []
        self.outputs: list[Output] = []
        self._wire = wire
        #: A channel that reads always the same.
        self.still: int | None = None
        self._rng = np.random.default_rng(3)
        self._offset = 5.0 * self._rng.standard_normal(self.layout.channels)
        self._frame = 0
        self.core = Pipeline(SOURCE, self.layout, checked=checked)
        self.look()

    @property
    def now_ns(self) -> int:
        """Host time after the newest frame."""
        return 1_800_000_000 * NS + round(self._frame / RATE * NS)

    @property
    def reports(self) -> list[Report]:
        """The checks made."""
        return [o.report for o in self.outputs if isinstance(o, CheckDone)]

    @property
    def zeros(self) -> list[ZeroSet]:
        """The zeros taken on purpose."""
        return [o for o in self.outputs if isinstance(o, ZeroSet)]

    def bear(self, seconds: float, kg: float = 0.0, at: tuple[float, float] = (1.8, 0.3)) -> None:
        """Let the deck bear ``kg`` at ``at`` for ``seconds``; show what came of it."""
        ideal = self._wire(reads(self.layout, kg, at)) + self._offset
        for _ in range(round(seconds * RATE / BLOCK)):
            noise = self._rng.standard_normal((BLOCK, self.layout.channels))
            rows = (ideal + noise).astype(np.float32)
            if self.still is not None:
                rows[:, self.still] = 123.0
            stamp = round(self._frame / RATE * NS)
            message = ForceMessage(SOURCE, "s1", self._frame, stamp, RATE, rows)
            self._frame += BLOCK
            packet = Packet(topic(SOURCE, TopicKind.FORCE), encode_force(message), self.now_ns)
            self._take(self.core.receive(packet))
        self.look()

    def shift(self, by: Array) -> None:
        """Let every reading drift by ``by`` (channels,)."""
        self._offset = self._offset + by

    def miss(self, frames: int) -> None:
        """Lose ``frames`` frames."""
        self._frame += frames

    def look(self) -> None:
        """Show the picture of now, as the monitor does."""
        now = self.core.snapshot(self.now_ns)
        self.show(now)
        self.say(of_check(now))

    def _act(self, action: Action) -> str | None:
        self.actions.append(action)
        packet = Packet(topic(SOURCE, TopicKind.OPERATOR), encode_action(action), self.now_ns)
        outputs = self.core.receive(packet)
        self._take(outputs)
        self.look()
        return next((o.say for o in outputs if isinstance(o, Fault)), None)

    def _take(self, outputs: list[Output]) -> None:
        self.outputs += outputs
        self.feed(outputs)
