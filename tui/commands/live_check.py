"""The set-up check of a live feed on a terminal: says each step, listens, judges."""

from __future__ import annotations

import asyncio
import sys
import time
from contextlib import aclosing

from stream.access.options import ConnectionOptions
from stream.checks.plan import Plan, Step
from stream.checks.procedure import Procedure
from stream.checks.verdict import Report
from stream.layout import Layout
from stream.snapshot import Sentence
from stream.sources import open_source
from stream.wire import Packet, TopicKind, WireError, decode_force, parse_topic
from tui.commands.check_recording import fit_channels
from tui.commands.errors import BadInput, RunFailed
from tui.commands.wrapped import say
from tui.safe_text import plain
from tui.said import in_units
from tui.units import Units

#: How often the terminal is told how far a step is, s.
_TELL_EVERY_S = 0.5


class LiveCheck:
    """One check of one live feed."""

    def __init__(
        self,
        feed: str,
        options: ConnectionOptions,
        layout: Layout,
        plan: Plan,
        units: Units = Units(),  # noqa: B008 - frozen
    ) -> None:
        self._units = units
        self._source = open_source(feed, options, self._heard)
        self._layout = layout
        self._procedure = Procedure(layout, plan)
        self._mound: str | None = options.source
        self._told: tuple[Step, str | None] | None = None
        self._connection = ""

    @property
    def step(self) -> Step:
        """The present step."""
        return self._procedure.step

    async def run(self, wait_s: float) -> Report:
        """Listen until every step is done or has been waited for; return the report.

        Raise RunFailed where nothing came at all.
        """
        listening = asyncio.create_task(self._listen(), name="check feed")
        step, since = self._procedure.step, time.monotonic()
        self._tell()
        try:
            while not self._procedure.done:
                await asyncio.wait({listening}, timeout=_TELL_EVERY_S)
                if listening.done():
                    await listening
                    break
                self._tell()
                if self._procedure.step is not step:
                    step, since = self._procedure.step, time.monotonic()
                elif time.monotonic() - since > wait_s:
                    self._give_up_step()
        finally:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)
        if self._mound is None or not self._procedure.evidence().timing.seconds:
            raise RunFailed(f"nothing came from {self._source.address}. {self._connection}".strip())
        return self._procedure.report(self._mound)

    async def _listen(self) -> None:
        async with aclosing(self._source.batches()) as batches:
            async for batch in batches:
                for packet in batch:
                    self._take(packet)
                if self._procedure.done:
                    return

    def _take(self, packet: Packet) -> None:
        try:
            source, kind = parse_topic(packet.topic)
        except WireError:
            return
        if kind is not TopicKind.FORCE:
            return
        if self._mound is None:
            self._mound = source
        if source != self._mound:
            raise BadInput(
                f"the feed carries {self._mound!r} and {source!r}: choose one with --source"
            )
        try:
            message = decode_force(packet.payload)
        except WireError:
            self._procedure.refuse()
            return
        fit_channels(self._layout, message.samples.shape[1])
        self._procedure.feed(message, packet.received_ns)

    def _give_up_step(self) -> None:
        """Take an empty deck as it is (its zero will be judged); leave another step undone."""
        if self._procedure.step is Step.EMPTY and self._procedure.take_now():
            return
        say("This step was not done in time; its checks are not run.", file=sys.stderr)
        self._procedure.skip()

    def _tell(self) -> None:
        now = self._procedure.now()
        if (now.step, now.hindrance) != self._told:
            if self._told is None or self._told[0] is not now.step:
                do = in_units(now.do, self._units)
                say(f"Step {now.number} of {now.of}: {do}", 2, sys.stderr)
            if now.hindrance:
                say(f"  {in_units(now.hindrance, self._units)}", 2, sys.stderr)
            self._told = (now.step, now.hindrance)

    def _heard(self, sentence: Sentence) -> None:
        self._connection = plain(sentence.text, 500)
