"""One recording of a session through the core again."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from msgspec.structs import replace

from stream.actions import Reassign, decode_action
from stream.changes import Change
from stream.layout import Layout
from stream.outputs import (
    Gap,
    NotCounted,
    NotCountedRecord,
    Output,
    Pitch,
    PitchRecord,
    Traces,
    UnpairedSpeed,
    ZeroLearnt,
)
from stream.pipeline import Pipeline
from stream.recording.reader import Recording, read_recording
from stream.recording.replay import Mounds, Setup, setup_of
from stream.settings import Settings
from stream.wire import NS, Packet, TopicKind, WireError, decode_force, topic

#: From and to, seconds from foot contact.
Window = tuple[float, float]
EVERYTHING: Window = (-math.inf, math.inf)


@dataclass(frozen=True)
class MeasuredPitch:
    """A pitch as it stands, with its curves.

    ``at_ns`` is its foot contact (where it has none, its window's beginning)
    by the clock of the computer that recorded it, to some ms.
    """

    record: PitchRecord
    traces: Traces
    at_ns: int


@dataclass(frozen=True, slots=True)
class LoneSpeed:
    """A ball speed that belongs to no pitch, at ``at_ns`` by the recording computer's clock."""

    at_ns: int
    speed_mps: float


@dataclass(frozen=True)
class Run:
    """What one recording gave.

    ``zero_moved_n`` is how far the zero at its end is from the one taken, N;
    None where there was none. ``came_ns`` is when its first and its last
    message came (host clock; None without any), and ``cut_off`` whether it was
    never closed.
    """

    pitches: tuple[MeasuredPitch, ...]
    not_counted: tuple[NotCountedRecord, ...]
    lone_speeds: tuple[LoneSpeed, ...]
    gaps: tuple[Gap, ...]
    zeros: tuple[ZeroLearnt, ...]
    zero_moved_n: float | None
    sentences: tuple[str, ...]
    came_ns: tuple[int, int] | None
    cut_off: bool


def run_again(
    path: Path,
    source: str,
    changes: Sequence[Change],
    *,
    layout: Layout | None = None,
    settings: Settings | None = None,
    first_number: int = 1,
    window_s: Window = EVERYTHING,
    progress: Callable[[int], None] | None = None,
) -> Run:
    """Measure the recording at ``path``; raise :class:`stream.files.FileError`, OSError.

    It begins as it did (RunStart), its pitches numbered from ``first_number``
    at least; of their curves ``window_s`` is kept. Of ``changes`` those that
    are not in the recording itself are carried out at its end. ``progress`` is
    told the bytes read.
    """
    recording = read_recording(path)
    setup = setup_of(recording, layout=layout, settings=settings)
    start = replace(setup.start, first_number=max(first_number, setup.start.first_number))
    setup = Setup(setup.layout, setup.settings, setup.roster, start)
    given = frozenset(c.number for c in changes if isinstance(c, Reassign))
    mounds = Mounds(setup, only=source, never_settled=given)
    taken = _Taken(source, window_s)
    for batch in recording.batches():
        taken.before(batch)
        outputs = mounds.receive_many(batch)
        taken.take(outputs, mounds.cores.get(source))
        if progress is not None:
            progress(recording.report.offset)
    core = mounds.cores.get(source)
    taken.take(mounds.finish(), core)
    if core is None:
        said = f"{path.name} holds no feed of {source!r}."
        damage = (*_damage(recording), said)
        return Run((), (), (), (), (), None, damage, taken.came_ns, recording.truncated)
    for change in changes:
        if change not in taken.acted:
            core.book.act(change)
    records = core.book.records
    pitches = tuple(MeasuredPitch(records[n], *rest) for n, rest in taken.pitches.items())
    return Run(
        pitches,
        tuple(taken.not_counted),
        tuple(taken.lone_speeds),
        tuple(taken.gaps),
        tuple(taken.zeros),
        core.snapshot(0).zero.moved_n,
        _damage(recording),
        taken.came_ns,
        recording.truncated,
    )


class _Taken:
    """What has come out of the core so far."""

    def __init__(self, source: str, window_s: Window) -> None:
        self.pitches: dict[int, tuple[Traces, int]] = {}
        self.not_counted: list[NotCountedRecord] = []
        self.lone_speeds: list[LoneSpeed] = []
        self.gaps: list[Gap] = []
        self.zeros: list[ZeroLearnt] = []
        self.acted: set[Change] = set()
        self.came_ns: tuple[int, int] | None = None
        self._force = topic(source, TopicKind.FORCE)
        self._operator = topic(source, TopicKind.OPERATOR)
        self._ahead_ns = 0
        self._window_s = window_s

    def before(self, packets: Sequence[Packet]) -> None:
        """Note when they came, what the operator did, and how far this clock is ahead."""
        began_ns = packets[0].received_ns if self.came_ns is None else self.came_ns[0]
        self.came_ns = began_ns, packets[-1].received_ns
        first = next((p for p in packets if p.topic == self._force), None)
        if first is not None:
            self._ahead_ns = _ahead_ns(first, self._ahead_ns)
        for packet in packets:
            if packet.topic == self._operator:
                try:
                    self.acted.add(decode_action(packet.payload))  # type: ignore[arg-type]
                except WireError:
                    continue  # the core counts it as a fault

    def take(self, outputs: Sequence[Output], core: Pipeline | None) -> None:
        """Take what came out of ``core``."""
        for output in outputs:
            match output:
                case Pitch(record=record, traces=traces) if core is not None:
                    contact = record.foot_contact_frame
                    frame = float(traces.first_frame) if contact is None else contact
                    at_ns = core.device_ns(frame) + self._ahead_ns
                    self.pitches[record.number] = (_cut(traces, self._window_s), at_ns)
                case NotCounted(record=record):
                    self.not_counted.append(record)
                case UnpairedSpeed(t_ns=t_ns, speed_mps=speed_mps):
                    self.lone_speeds.append(LoneSpeed(t_ns + self._ahead_ns, speed_mps))
                case Gap():
                    self.gaps.append(output)
                case ZeroLearnt():
                    self.zeros.append(output)
                case _:
                    pass


def _cut(traces: Traces, window_s: Window) -> Traces:
    """Return the part inside the window, as arrays of its own: many pitches must fit in memory."""
    if window_s == EVERYTHING:
        return traces
    first, stop = np.searchsorted(traces.time_s, window_s).tolist()
    names = ("time_s", "drive", "lead", "drive_cop", "lead_cop")
    parts = {name: getattr(traces, name)[first:stop].copy() for name in names}
    for part in parts.values():
        part.flags.writeable = False
    return replace(traces, first_frame=traces.first_frame + first, **parts)


def _ahead_ns(packet: Packet, otherwise: int) -> int:
    try:
        message = decode_force(packet.payload)
    except WireError:
        return otherwise
    newest = message.t_ns + round((len(message.samples) - 1) * NS / message.rate_hz)
    return packet.received_ns - newest


def _damage(recording: Recording) -> tuple[str, ...]:
    said = list(recording.report.sentences())
    if recording.head_damage:
        said.insert(0, "The beginning of the recording is damaged; what it said may be missing.")
    if recording.truncated:
        said.insert(0, "It was not closed (a crash or power cut); it ends with what was saved.")
    return tuple(f"{recording.path.name}: {sentence}" for sentence in said)
