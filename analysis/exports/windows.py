"""The raw frames of each pitch of a session, and when they were by the host's clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analysis.exports.errors import ExportError
from analysis.sessions.stored import StoredSession
from stream.clock import ClockFit, fit_clock
from stream.layout import Layout
from stream.outputs import Pitch, PitchRecord
from stream.pipeline import Pipeline
from stream.recording.reader import Recording, read_recording
from stream.recording.replay import Mounds, Setup, setup_of
from stream.tracker import Tracker
from stream.wire import NS, Packet, TopicKind, WireError, decode_force, topic

Array = npt.NDArray[np.float64]

#: So much of the feed after the movement belongs to a pitch's frames, s.
AFTER_S = 0.5
#: Of the delays of messages, this share lies within the uncertainty that is told.
_SHARE = 0.95


@dataclass(frozen=True)
class HostTime:
    """A time by the host's clock, ns since the Unix epoch.

    ``spread_s``: 95 % of the messages came within it of the line through all of them; the shortest
    delay on the way, which one-way messages cannot show, comes on top. None: not known.
    """

    ns: int
    spread_s: float | None


@dataclass(frozen=True, eq=False)
class PitchWindow:
    """One pitch's frames: ``samples`` (n, channels) raw, the zero taken off, NaN where missing."""

    record: PitchRecord
    layout: Layout
    recording: Path
    first_frame: int
    rate_hz: float
    samples: Array
    host: HostTime


@dataclass(eq=False)
class _Found:
    """A pitch's frames so far; what follows the movement is added when it has come."""

    record: PitchRecord
    first_frame: int
    rate_hz: float
    samples: Array
    tracker: Tracker
    tare: Array

    def extend(self, *, last: bool) -> bool:
        """Add the frames after the movement; return False while they may yet come."""
        ring, end = self.tracker.raw, self.first_frame + len(self.samples)
        wanted = end + round(AFTER_S * self.rate_hz)
        if not ring.first <= end <= ring.end:
            return True  # a long gap: nothing follows
        if ring.end < wanted and not last:
            return False
        tail = ring.view(end, min(wanted, ring.end)).astype(np.float64) - self.tare
        self.samples = np.concatenate([self.samples, tail])
        return True


class WindowReader:
    """Sends a session's recordings through the core and cuts the pitches' frames out."""

    def __init__(
        self, session: StoredSession, progress: Callable[[float], None] = lambda share: None
    ) -> None:
        self._session = session
        self._progress = progress
        self._records = {record.number: record for record in session.pitches}
        self.missing: set[int] = set(self._records)

    def windows(self) -> Iterator[PitchWindow]:
        """Yield the pitches in the order of the recordings; raise FileError, OSError."""
        session = self._session
        total = sum(path.stat().st_size for path in session.recordings) or 1
        before = last = 0
        for path in session.recordings:
            for window in self._of(path, last + 1, before, total):
                last = max(last, window.record.number)
                self.missing.discard(window.record.number)
                yield window
            before += path.stat().st_size

    def _of(self, path: Path, number: int, before: int, total: int) -> Iterator[PitchWindow]:
        recording = read_recording(path)
        setup = self._setup(recording, number)
        source = self._session.about.source
        mounds = Mounds(setup, only=source)
        readings = _Readings(source)
        found, waiting = list[_Found](), list[_Found]()
        # One at a time, as live: the zero must be the one in force when the pitch ends.
        for packet in recording.packets():
            readings.take(packet)
            for output in mounds.receive_many((packet,)):
                if isinstance(output, Pitch):
                    cut = _cut(mounds.cores[source], output)
                    waiting += [cut] if cut is not None else []
            done = [cut for cut in waiting if cut.extend(last=False)]
            found += done
            waiting = [cut for cut in waiting if cut not in done]
            self._progress((before + recording.report.offset) / total)
        for cut in waiting:
            cut.extend(last=True)
        found += waiting
        for cut in found:
            record = self._records.get(cut.record.number)
            if record is not None and record.stream == cut.record.stream:
                yield PitchWindow(
                    record=record,
                    layout=setup.layout,
                    recording=path,
                    first_frame=cut.first_frame,
                    rate_hz=cut.rate_hz,
                    samples=cut.samples,
                    host=readings.host_time(cut.record.stream, cut.first_frame),
                )

    def _setup(self, recording: Recording, number: int) -> Setup:
        """Return what the recording carries; a named result has its own layout and settings."""
        if self._session.result is None:
            return setup_of(recording)
        layout, settings = self._session.layout, self._session.settings
        setup = setup_of(recording, layout=layout, settings=settings)
        first = max(number, setup.start.first_number)
        start = replace(setup.start, first_number=first)
        return Setup(setup.layout, setup.settings, setup.roster, start)


def feed_rate(session: StoredSession) -> float:
    """Return the rate (Hz) of the session's feed; raise :class:`ExportError` if there is none."""
    force = topic(session.about.source, TopicKind.FORCE)
    for path in session.recordings:
        for packet in read_recording(path).packets():
            if packet.topic == force:
                try:
                    return decode_force(packet.payload).rate_hz
                except WireError:
                    continue
    raise ExportError(f"{session.folder} has no recording with a feed")


def _cut(core: Pipeline, pitch: Pitch) -> _Found | None:
    traces, tracker = pitch.traces, core.tracker
    first, n = traces.first_frame, len(traces.time_s)
    if tracker is None or not tracker.raw.first <= first <= first + n <= tracker.raw.end:
        return None  # the device restarted at that very moment
    tare = tracker.zero.tare
    samples = tracker.raw.view(first, first + n).astype(np.float64) - tare
    return _Found(pitch.record, first, traces.rate_hz, samples, tracker, tare)


class _Readings:
    """When each message's newest sample was, by the count of frames, and came, by the host's clock.

    The device's own clock is not asked: somebody may set it, while a frame is always the same time.
    """

    def __init__(self, source: str) -> None:
        self._force = topic(source, TopicKind.FORCE)
        self._of: dict[str, _Times] = {}

    def take(self, packet: Packet) -> None:
        """Note a message's times."""
        if packet.topic != self._force:
            return
        try:
            message = decode_force(packet.payload)
        except WireError:
            return  # the core counts it
        times = self._of.setdefault(message.stream, _Times(message.rate_hz))
        times.counted.append(times.at(message.first_frame + len(message.samples) - 1))
        times.came.append(packet.received_ns)

    def host_time(self, stream: str, frame: int) -> HostTime:
        """Return the host's time at a frame of one run of the device."""
        times = self._of[stream]
        first, at, fit = times.counted[0], times.at(frame), times.fit
        if fit is None:
            return HostTime(at + times.came[0] - first, None)
        ahead_s = fit.offset_s + fit.drift_ppm * 1e-6 * (at - first) / NS
        spread = float(np.quantile(np.abs(fit.delay_s), _SHARE))
        return HostTime(at + round(ahead_s * NS), spread)


@dataclass(eq=False)
class _Times:
    """The newest frames of one run's messages, ns by their count, and when they came, ns."""

    rate_hz: float
    counted: list[int] = field(default_factory=list)
    came: list[int] = field(default_factory=list)

    def at(self, frame: int) -> int:
        """Return when a frame was, ns by the count."""
        return round(frame * NS / self.rate_hz)

    @cached_property
    def fit(self) -> ClockFit | None:
        """How the count lies to the host's clock; asked once all have come."""
        return fit_clock(self.counted, self.came)
