"""The core put together: packets in, outputs out, for one mound.

    packet -> wire -> intake -> tracker (ring, detector) -> telling (report) -> book -> outputs

Synchronous and without I/O: time comes in with the packets and with
:meth:`Pipeline.tick`. Live, replay and batch use this same class.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stream.actions import ChoosePitcher, GuideCheck, StartCheck, TakeZero, decode_action
from stream.book import Book
from stream.checks.running import Checking
from stream.checks.tare import Tare
from stream.checks.verdict import Report
from stream.checks.vigil import STILL_S, Vigil
from stream.continuity import Continuity, Run, Step
from stream.feet import feet_model
from stream.findings import Finding, LandingSeen, MovementEnded, ZeroTaken
from stream.intake import ClockRead, Intake
from stream.layout import Layout
from stream.outputs import CheckDone, Fault, Gap, NotCounted, Output, StreamStarted
from stream.picture import health_of, picture
from stream.roster import Roster
from stream.settings import Settings
from stream.snapshot import Snapshot
from stream.telling import Teller, Window
from stream.tracker import LONGEST_GAP_S, Tracker, zero_from_tare
from stream.watchman import Watchman
from stream.wire import (
    ForceMessage,
    Packet,
    Refusal,
    Samples,
    TopicKind,
    WireError,
    decode_force,
    decode_speed,
    parse_topic,
)
from stream.zero import NO_ZERO, TAKEN
from stream.zero_account import ZeroAccount

LOOK_EVERY_NS = 500_000_000


class Pipeline:
    """The core of one mound.

    ``tare`` (channels,) is a zero taken on purpose, raw units; without one the
    first quiet second gives it; ``taken`` says by whom and when, where that is
    known. ``checked`` is the last set-up check made. ``pitcher`` is the code
    of who throws first.
    """

    def __init__(
        self,
        source: str,
        layout: Layout,
        settings: Settings | None = None,
        roster: Roster | None = None,
        pitcher: str = "",
        first_number: int = 1,
        tare: Sequence[float] | None = None,
        taken: Tare | None = None,
        checked: Report | None = None,
    ) -> None:
        self.source = source
        self.layout = layout
        self.settings = settings or Settings()
        self.roster = roster or Roster()
        self.pitcher = pitcher
        #: Who throws the pitch that has landed and is not over.
        self._thrower = pitcher
        self.book = Book(source, first_number)
        self.watchman = Watchman(source)
        self._intake = Intake(source, self.watchman)
        self.checking = Checking(source, layout, self.settings, checked)
        self.vigil = Vigil(layout)
        self._looked_ns = 0
        self.tracker: Tracker | None = None
        #: The tracker's stream: that of the feed may already be the next one.
        self._stream = ""
        self.feet = feet_model(layout)
        self._teller = Teller(source, self.roster, self.feet, self.settings)
        self._zero = zero_from_tare(
            np.zeros(layout.channels) if tare is None else np.asarray(tare, dtype=float),
            self.feet.online_rows(),
            noise=0.0,
            frame=0,
            kind=NO_ZERO if tare is None else TAKEN,
        )
        self.zero = ZeroAccount(
            source,
            self.feet.online_rows()[:2].sum(axis=0),
            self.vigil,
            None if tare is None else self._zero,
            taken,
        )

    @property
    def continuity(self) -> Continuity:
        """The order of the feed: its stream, its counters."""
        return self._intake.continuity

    def receive(self, packet: Packet) -> list[Output]:
        """Take one packet."""
        return self.receive_many((packet,))

    def receive_many(self, packets: Sequence[Packet]) -> list[Output]:
        """Take packets in order; a run of force messages goes through as one block."""
        out: list[Output] = []
        runs: list[Run] = []
        at = 0
        while at < len(packets):
            # A set-up check looks at every message by itself.
            joined = None if self.checking.running else self._intake.take_many(packets, at)
            if joined is None:
                self._take_one(packets[at], runs, out)
                at += 1
            else:
                runs.append(joined.run)
                at += joined.messages
        self._take_runs(runs, out)
        return out

    def tick(self, now_ns: int) -> list[Output]:
        """Let the host's time pass: tells once when the feed has stopped or a channel has died."""
        return [*self.watchman.tick(now_ns), *self._watch_readings(now_ns)]

    def finish(self) -> list[Output]:
        """The feed has ended: give out what was held and settle what is open."""
        out: list[Output] = []
        runs: list[Run] = []
        self._take_steps(self.continuity.flush(), self.watchman.last_ns or 0, runs, out)
        self._take_runs(runs, out)
        if self.tracker is not None and self.tracker.in_delivery:
            out += self._interrupted()
        return out + self.book.finish()

    def _watch_readings(self, now_ns: int) -> list[Output]:
        """Look at the newest second of readings, twice a second; tell what is new."""
        tracker = self.tracker
        if tracker is None or 0 <= now_ns - self._looked_ns < LOOK_EVERY_NS:
            return []
        self._looked_ns = now_ns
        ring, length = tracker.raw, round(STILL_S * tracker.rate_hz)
        if ring.end - ring.first < length or self.watchman.stalled:
            return []
        before = {s.key for s in self.vigil.sentences()}
        # The mass of a set-up check is meant to lie there: it is no zero that moved.
        empty = tracker.detector.is_empty and not self.checking.running
        self.vigil.look(ring.view(ring.end - length, ring.end), empty=empty)
        return [
            Fault(self.source, s.key, s.text) for s in self.vigil.sentences() if s.key not in before
        ]

    def zero_moved_n(self) -> float | None:
        """Return how much the whole deck reads too much at the zero taken, N; None: not known."""
        return None if self.tracker is None else self.zero.moved_n(self.tracker.zero)

    def snapshot(self, now_ns: int) -> Snapshot:
        """Return the picture of this moment."""
        return picture(self, now_ns)

    def health(self, now_ns: int) -> dict[str, object]:
        """Return the payload of the ``health`` topic."""
        return health_of(self, now_ns)

    def device_ns(self, frame: float) -> int:
        """Return the device clock (ns) at a frame of the present stream."""
        return self._intake.device_ns(frame)

    def _take_one(self, packet: Packet, runs: list[Run], out: list[Output]) -> None:
        """Take one packet of any kind, whatever is in it."""
        try:
            _, kind = parse_topic(packet.topic)
            if kind is TopicKind.FORCE:
                self._take_force(decode_force(packet.payload), packet, runs, out)
            elif kind is TopicKind.SPEED:
                speed = decode_speed(packet.payload)
                self._check_source(speed.source)
                self._take_runs(runs, out)
                out += self.book.speed(speed)
            elif kind is TopicKind.OPERATOR:
                self._take_runs(runs, out)
                out += self._act(packet)
        except WireError as error:
            if packet.topic.endswith(TopicKind.FORCE):
                self.checking.refuse()
            out.append(
                self.watchman.refused(
                    error.reason.value,
                    packet.received_ns,
                    f"A message on {packet.topic[:80]!r} was left out: {error.detail}. If more "
                    "come, check plugs and cable, then start the device again.",
                )
            )

    # Force.

    def _take_force(
        self, message: ForceMessage, packet: Packet, runs: list[Run], out: list[Output]
    ) -> None:
        self._check_source(message.source)
        steps = self._intake.take(message, packet.received_ns)
        self._take_steps(steps, packet.received_ns, runs, out)
        if message.stream != self.continuity.stream:
            return  # put aside: what another device sends says nothing of this one
        frames = self.continuity.counters.frames
        self.watchman.arrived(packet.received_ns, frames, message.rate_hz)
        if self.checking.running:
            made = self.checking.take(message, packet.received_ns)
            if not self.checking.running:
                # What came until now was under the check.
                self._take_runs(runs, out)
                self._hold_zero()
            if made is not None:
                out += self._checked(made)

    def _take_steps(
        self,
        steps: Sequence[Step | ClockRead],
        received_ns: int,
        runs: list[Run],
        out: list[Output],
    ) -> None:
        for step in steps:
            if isinstance(step, Run):
                runs.append(step)
                continue
            self._take_runs(runs, out)
            if isinstance(step, ClockRead):
                self._intake.read_clock(step)
                if step.set_by_ns:
                    self.book.set_clock(step.set_by_ns)
                    out += self.watchman.clock_stepped(step.set_by_ns, received_ns)
                continue
            if isinstance(step, Fault):
                out.append(self.watchman.refused(step.kind, received_ns, step.say))
                continue
            out.append(step)
            if isinstance(step, Gap):
                self.watchman.lost(step.frames, received_ns)
                out += self._skip(step, received_ns)
            elif isinstance(step, StreamStarted):
                out += self._start(step, received_ns)

    def _start(self, started: StreamStarted, received_ns: int) -> list[Output]:
        out: list[Output] = self.book.begin_anew() if started.restart else []
        if self.tracker is not None:
            out += self._interrupted()
            age_s = self.tracker.zero_age_s + self.watchman.silent_s(received_ns)
            frame = started.first_frame - round(age_s * started.rate_hz)
            self._zero = replace(self.tracker.zero, frame=frame)
        self.tracker = None
        self._stream = started.stream
        self.watchman.restart()
        if started.channels != self.layout.channels:
            out.append(self._wrong_layout(started.channels))
            return out
        self.tracker = Tracker(
            self.feet,
            started.rate_hz,
            self.settings,
            self._zero,
            started.first_frame,
        )
        self._hold_zero()
        return out

    def _wrong_layout(self, channels: int) -> Fault:
        return Fault(
            self.source,
            "wrong_layout",
            f"The feed has {channels} channels, but the layout {self.layout.name!r} has "
            f"{self.layout.channels}. Start again with the layout of this mound.",
        )

    def _skip(self, gap: Gap, received_ns: int) -> list[Output]:
        if self.tracker is None:
            return []
        out: list[Output] = []
        if gap.frames > LONGEST_GAP_S * self.tracker.rate_hz:
            out += self._interrupted()
            out.append(self.watchman.missed(gap.frames / self.tracker.rate_hz, received_ns))
        for finding in self.tracker.skip(gap.frames):
            out += self._tell(finding)
        return out

    def _take_runs(self, runs: list[Run], out: list[Output]) -> None:
        """Send the collected runs, which follow each other, through the tracker as one block."""
        if not runs:
            return
        samples = runs[0].samples if len(runs) == 1 else np.concatenate([r.samples for r in runs])
        runs.clear()
        if self.tracker is None:
            return
        self._track(samples, out)

    def _track(self, samples: Samples, out: list[Output]) -> None:
        assert self.tracker is not None
        for finding in self.tracker.take(samples):
            # Settled up to here first, so that the order of outputs is that of a live feed.
            out += self.book.pass_time(self.device_ns(finding.frame))
            out += self._tell(finding)
        out += self.book.pass_time(self.device_ns(self.tracker.raw.end))

    # Findings.

    def _tell(self, finding: Finding) -> list[Output]:
        match finding:
            case LandingSeen():
                # Who is chosen from here on throws the next one.
                self._thrower = self.pitcher
                return [self._teller.landing(finding, self._stream)]
            case ZeroTaken():
                return self.zero.learn(finding, self.watchman.last_ns)
            case MovementEnded():
                return self._measure(finding)

    def _measure(self, ended: MovementEnded) -> list[Output]:
        thrower = self.pitcher if ended.landing is None else self._thrower
        told = self._teller.movement(self._window(ended), thrower, self.book.next_number)
        if told is None:
            return []
        if isinstance(told, NotCounted):
            return [told]
        self.book.add(told.pitch.record, self.device_ns(told.landed), told.remeasure)
        return [told.pitch]

    def _interrupted(self) -> list[Output]:
        """Tell the delivery that the feed broke off, if there was one."""
        assert self.tracker is not None
        ended = self.tracker.detector.broken_off()
        told = None if ended is None else self._teller.interrupted(self._window(ended))
        return [] if told is None else [told]

    def _window(self, ended: MovementEnded) -> Window:
        assert self.tracker is not None
        return Window(self.tracker.window(ended), ended, self.tracker.rate_hz, self._stream)

    # The operator.

    def _act(self, packet: Packet) -> list[Output]:
        action = decode_action(packet.payload)
        self._check_source(action.source)
        if isinstance(action, ChoosePitcher):
            self.pitcher = action.pitcher
            if self.tracker is not None:
                self.tracker.detector.forget_weight()
            return []
        if isinstance(action, TakeZero):
            if self.tracker is not None:
                self.tracker.detector.zeros.ask()
            self.zero.ask(action.by)
            return []
        if isinstance(action, StartCheck):
            refused = self.checking.start(action)
            self._hold_zero()
            return self._refused(refused)
        if isinstance(action, GuideCheck):
            came = self.checking.guide(action)
            self._hold_zero()
            return self._checked(came) if isinstance(came, Report) else self._refused(came)
        return self.book.act(action)

    def _checked(self, report: Report) -> list[Output]:
        """A set-up check is done: its zero is in force from now on."""
        out: list[Output] = []
        if report.tare is not None:
            in_force = None if self.tracker is None else self.tracker.set_zero(report.tare.values)
            out.append(self.zero.check_made(report.tare, in_force))
        return [*out, CheckDone(self.source, report)]

    def _hold_zero(self) -> None:
        """While a set-up check runs its known mass must not become a part of the zero."""
        if self.tracker is not None:
            self.tracker.hold_zero(self.checking.running)

    def _refused(self, say: str | None) -> list[Output]:
        return [] if say is None else [Fault(self.source, "check", say)]

    def _check_source(self, source: str) -> None:
        if source != self.source:
            raise WireError(
                Refusal.WRONG_SOURCE, f"it says source {source!r} but came for {self.source!r}"
            )
