"""Puts a monitor together from its plan, runs it and puts everything away in order."""

from __future__ import annotations

import asyncio
import os
import signal
import time
from collections.abc import Callable, Sequence
from contextlib import AsyncExitStack
from importlib import import_module
from pathlib import Path

import msgspec
import numpy as np
import zmq.asyncio

from stream.access.address import check_listen, parse_address
from stream.access.curve import server_keys
from stream.checks.tare import Tare
from stream.checks.verdict import Report
from stream.files import parse_layout, parse_roster, parse_settings, settings_text
from stream.filters import low_pass
from stream.monitor import words
from stream.monitor.earlier import Earlier, take_up
from stream.monitor.keepers import JsonLines, Keeper, SessionKeeper
from stream.monitor.link import ViewServer
from stream.monitor.memory import keep_large_blocks_apart, set_aside_what_stays
from stream.monitor.mounds import Core
from stream.monitor.owner import end_with
from stream.monitor.plan import Plan
from stream.monitor.presence import Presence, announce, claim, hold_session
from stream.monitor.service import Equipment, Monitor
from stream.pipeline import Pipeline
from stream.recording.content import SCENARIO
from stream.recording.recovery import was_cut_off
from stream.recording.session import Session, SessionError
from stream.recording.start import METADATA_NAME, RunStart
from stream.recording.writer import RecordingWriter
from stream.roster import Roster
from stream.settings import Settings
from stream.sinks.jsonl import LineFile
from stream.sinks.messages import session_message
from stream.sinks.publisher import open_publisher
from stream.snapshot import Sentence
from stream.sources import open_source

#: How long it is said what became of a run that was cut off, s.
NEWS_S = 60.0


class Incomplete(Exception):  # noqa: N818 - said to the operator as it stands
    """The monitor ran, but not everything reached its file."""


async def run_plan(
    plan: Plan, *, runtime: Path | None = None, tellers: Sequence[Callable[[], Keeper]] = ()
) -> None:
    """Run a monitor until it is stopped by a signal or has what it was asked for.

    In ``runtime`` it can be found and watched. Raise the input's own errors
    before anything starts, TaskFailed or :class:`Incomplete` afterwards.
    """
    keep_large_blocks_apart()
    async with AsyncExitStack() as stack:
        file = stack.enter_context(claim(runtime)) if runtime is not None else None
        builder = _Builder(plan, stack)
        # The first pitch and the first set-up check must not wait for what they need: seconds on a
        # busy computer.
        import_module("stream.checks.guided")
        import_module("scipy.stats")
        low_pass(np.zeros((64, 1)), cutoff_hz=40.0, rate_hz=200.0)
        equipment = builder.equipment(stack, runtime, tellers)
        monitor = builder.monitor(equipment)
        for server in equipment.servers:
            server.act = monitor.act
        if file is not None and runtime is not None:
            announce(file, presence_of(runtime, str(parse_address(plan.feed))))
        loop = asyncio.get_running_loop()
        for number in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(number, monitor.stop)
            stack.callback(loop.remove_signal_handler, number)
        if plan.owner is not None:
            watching = loop.create_task(end_with(plan.owner, monitor.stop), name="owner")
            stack.callback(watching.cancel)
        try:
            builder.begin(equipment)
            set_aside_what_stays()
            await monitor.run()
            if plan.session and builder.session is None:
                monitor.say(words.nothing_came(monitor.source.address, plan.session))
        finally:
            await _put_away(equipment)


def endpoints(runtime: Path) -> list[str]:
    """Return the endpoints of the monitor in ``runtime``: view, ask, operate."""
    return [f"ipc://{runtime / name}" for name in ("view", "ask", "operate")]


def presence_of(runtime: Path, feed: str) -> Presence:
    """Return this process as the monitor of ``runtime``."""
    view, ask, operate = endpoints(runtime)
    return Presence(
        pid=os.getpid(), view=view, ask=ask, operate=operate, feed=feed, started_ns=time.time_ns()
    )


class _Builder:
    """Everything that is made from a plan; reading it raises the inputs' own errors.

    A session's folder is held until ``stack`` is closed.
    """

    def __init__(self, plan: Plan, stack: AsyncExitStack) -> None:
        self.plan = plan
        self._stack = stack
        self._held = False
        self.only = plan.options.source
        self.session: Session | None = None
        self.session_id = ""
        self.earlier: Earlier | None = None
        layout, roster, settings = plan.layout, plan.roster, plan.settings
        if plan.session and (Path(plan.session) / "session.json").exists():
            kept = Session.open(Path(plan.session))
            self._hold(Path(plan.session))
            self.only = kept.about.source
            layout, roster = layout or kept.layout_text, roster or kept.roster_csv
            self.session_id = kept.about.id
            settings = settings or kept.settings_text
        self.layout = parse_layout(layout, "the layout")
        self.roster = parse_roster(roster, "the roster") if roster else Roster()
        self.settings = parse_settings(settings, "the settings") if settings else Settings()

    def equipment(
        self, stack: AsyncExitStack, runtime: Path | None, tellers: Sequence[Callable[[], Keeper]]
    ) -> Equipment:
        """Open what the monitor writes to and listens on."""
        plan = self.plan
        servers = []
        context = stack.enter_context(zmq.asyncio.Context())
        if runtime is not None:
            servers.append(ViewServer(context, endpoints(runtime)))
        if plan.view is not None:
            address = check_listen(parse_address(plan.view), plan.open_to_network)
            ask = f"{str(address).rpartition(':')[0]}:{address.port + 1}"
            keys = server_keys(Path(plan.view_keys)) if plan.view_keys else None
            outside = stack.enter_context(zmq.asyncio.Context())
            servers.append(ViewServer(outside, [str(address), ask], keys=keys))
        for server in servers:
            server.session = self.session_id
            stack.callback(server.close)
        keepers: list[Keeper] = [make() for make in tellers]
        if plan.jsonl is not None:
            keepers.append(JsonLines(LineFile(Path(plan.jsonl), fresh=True)))
        publisher = None
        if plan.publish is not None:
            publisher = open_publisher(
                plan.publish, plan.publish_options, open_to_network=plan.open_to_network
            )
            stack.callback(publisher.close)
        recording = (
            self._recording(Path(plan.record), RunStart(pitcher=plan.pitcher))
            if plan.record
            else None
        )
        return Equipment(recording=recording, keepers=keepers, publisher=publisher, servers=servers)

    def monitor(self, equipment: Equipment) -> Monitor:
        """Return the monitor around its source."""
        return Monitor(
            lambda tell: open_source(self.plan.feed, self.plan.options, tell),
            self.open_mound,
            equipment,
            until_pitches=self.plan.pitches,
        )

    def begin(self, equipment: Equipment) -> None:
        """Open the session at once where its mound is known, so that trouble shows at once.

        A session whose last run was cut off is opened with the first message
        instead: measuring its recording again takes seconds, in which the
        feed then waits at the source and is not missed.
        """
        folder = Path(self.plan.session) if self.plan.session else None
        if folder is None or self.only is None:
            return
        known = (folder / "session.json").exists()
        if not (known and was_cut_off(Session.open(folder))):
            self._open_session(self.only, equipment)

    def open_mound(self, source: str, equipment: Equipment) -> Core | Sentence:
        """Return the core of a mound heard for the first time, or why it is left out."""
        plan = self.plan
        first, tare, checked = 1, None, None
        if plan.session:
            if self.only is not None and source != self.only:
                return words.other_mound(source, self.only)
            self.only = source
            session = self._open_session(source, equipment)
            first, tare, checked = session.next_number(), self._tare(session), _checked(session)
        if equipment.publisher is not None:
            about = {
                "session": self.session.about.id if self.session else None,
                "layout": self.layout.name,
                "started_ns": time.time_ns(),
            }
            equipment.publisher.offer(session_message(source, about))
        core = Pipeline(
            source,
            self.layout,
            self.settings,
            self.roster,
            pitcher=self._pitcher(),
            first_number=first,
            tare=None if tare is None else tare.values,
            taken=tare,
            checked=checked,
        )
        if self.earlier is not None:
            core.book = self.earlier.book
        return core

    def _tare(self, session: Session) -> Tare | None:
        """Return the zero taken on purpose last in this session, if it fits the layout."""
        taken = [entry["tare"] for entry in session.log() if "tare" in entry]
        try:
            tare = msgspec.convert(taken[-1], Tare) if taken else None
        except msgspec.ValidationError:
            return None
        return tare if tare is not None and len(tare.values) == self.layout.channels else None

    def _open_session(self, source: str, equipment: Equipment) -> Session:
        if self.session is not None:
            return self.session
        assert self.plan.session is not None
        self._hold(Path(self.plan.session))
        session = Session.open_or_create(
            Path(self.plan.session),
            source=source,
            layout_text=self.layout.origin_text,
            settings_text=settings_text(self.settings),
            roster=self.roster,
        )
        self.session = session
        self.earlier = take_up(session, self.roster, time.time_ns())
        if self.earlier.notices:
            equipment.notices.extend(self.earlier.notices)
            # News of the beginning; later a small screen needs its lines for the pitches.
            asyncio.get_running_loop().call_later(NEWS_S, equipment.notices.clear)
        for server in equipment.servers:
            server.session = session.about.id
            for pitch in self.earlier.pitches:
                server.remember(pitch)
            for movement in self.earlier.movements:
                server.remember(movement)
        number, path = session.next_recording()
        tare = self._tare(session)
        start = RunStart(
            source=source,
            session=session.about.id,
            recording=number,
            pitcher=self._pitcher(),
            first_number=session.next_number(),
            tare=None if tare is None else tare.values,
        )
        equipment.recording = self._recording(path, start)
        equipment.keepers.append(SessionKeeper(session))
        return session

    def _pitcher(self) -> str:
        """Return who throws first: who is given, or who threw as the last run was cut off."""
        return self.plan.pitcher or ("" if self.earlier is None else self.earlier.pitcher)

    def _hold(self, folder: Path) -> None:
        if not self._held:
            self._stack.enter_context(hold_session(folder))
            self._held = True

    def _recording(self, path: Path, start: RunStart) -> RecordingWriter:
        return RecordingWriter(
            path,
            layout_text=self.layout.origin_text,
            roster_csv=self.roster.coded().to_csv(),
            settings_text=settings_text(self.settings),
            extra_metadata={METADATA_NAME: start.to_metadata()} | self._scenario(),
        )

    def _scenario(self) -> dict[str, dict[str, str]]:
        return {SCENARIO: {"text": self.plan.scenario}} if self.plan.scenario else {}


def _checked(session: Session) -> Report | None:
    """Return the session's last set-up check; None too where it is of a kind no longer read."""
    try:
        return msgspec.convert(session.check(), Report | None)
    except (SessionError, msgspec.ValidationError):
        return None


async def _put_away(equipment: Equipment) -> None:
    """Close every file; raise :class:`Incomplete` naming each that lacks something."""
    lacking = []
    for keeper in equipment.keepers:
        if not await keeper.room.finish():
            lacking.append(f"{keeper.room.name} lacks what could not be written")
    if equipment.recording is not None:
        try:
            await asyncio.to_thread(equipment.recording.close)
        except Exception as error:  # whatever it was, the operator must know it
            lacking.append(str(error))
    if lacking:
        raise Incomplete("; ".join(lacking))
