"""A recording's frames in order, with what is missing left empty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from analysis.exports.errors import ExportError
from stream.continuity import Continuity, Run, Step
from stream.files import parse_layout
from stream.layout import Layout
from stream.outputs import Gap, StreamStarted
from stream.recording.reader import Recording
from stream.wire import Packet, TopicKind, WireError, decode_force, parse_topic

#: A longer gap is told and not written row by row, s.
LONGEST_GAP_S = 60.0
#: Messages are short; what follows each other is handed on in stretches of this many frames.
_STRETCH = 4096

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Block:
    """Consecutive frames: ``samples`` (n, channels) raw, NaN rows where frames never came.

    ``t_s`` is the time of the first row, seconds from the recording's first frame by the
    device's frame count (across a restart of the device: by the host's clock).
    """

    stream: str
    first_frame: int
    t_s: float
    rate_hz: float
    samples: Array


@dataclass
class FrameReader:
    """One mound's frames of a recording; ``source`` None takes the only one there is."""

    recording: Recording
    layout: Layout
    source: str | None = None
    missing: int = 0
    unreadable: int = 0
    restarts: int = 0
    long_gaps: int = 0
    _order: Continuity = field(default_factory=Continuity)
    _origin: tuple[int, float] = (0, 0.0)
    _first_ns: int | None = None

    def blocks(self) -> Iterator[Block]:
        """Yield the frames; raise :class:`ExportError` where the recording is not what was said."""
        yield from _joined(self._blocks())
        if self._first_ns is None:
            wanted = f" of {self.source!r}" if self.source else ""
            raise ExportError(f"{self.recording.path.name} holds no force feed{wanted}")

    def _blocks(self) -> Iterator[Block]:
        for packet in self.recording.packets():
            if self.is_force(packet):
                yield from self._take(packet)
        yield from self._steps(self._order.flush(), 0)

    def sentences(self) -> list[str]:
        """Return what a reader of the frames must know."""
        said = self.recording.report.sentences()
        if self.recording.head_damage:
            said.append("The recording's beginning is damaged; it may lack its own layout.")
        if self.recording.truncated:
            said.append("The recording was not closed; it ends with what was saved.")
        if self.missing:
            said.append(f"{self.missing} frames never came; their cells are empty.")
        if self.long_gaps:
            said.append(
                f"{self.long_gaps} gaps are longer than {LONGEST_GAP_S:g} s and have no rows."
            )
        if self.unreadable:
            said.append(f"{self.unreadable} messages could not be read and were left out.")
        if self.restarts:
            said.append(
                f"The device restarted {self.restarts} times: 'frame' begins anew there, 't_s' "
                "goes on by the host's clock."
            )
        return said

    def is_force(self, packet: Packet) -> bool:
        """Return whether a packet is of the mound's force feed."""
        source, kind = parse_topic(packet.topic)
        if kind is not TopicKind.FORCE:
            return False
        if self.source is None:
            self.source = source
        if self.source != source and self._chosen_alone:
            raise ExportError(
                f"{self.recording.path.name} holds the mounds {self.source} and {source}; "
                "choose one with --source"
            )
        return self.source == source

    def __post_init__(self) -> None:
        self._chosen_alone = self.source is None

    def _take(self, packet: Packet) -> Iterator[Block]:
        try:
            message = decode_force(packet.payload)
        except WireError:
            self.unreadable += 1
            return
        if message.samples.shape[1] != self.layout.channels:
            raise ExportError(
                f"the feed has {message.samples.shape[1]} channels, the layout "
                f"{self.layout.name!r} has {self.layout.channels}"
            )
        yield from self._steps(self._order.accept(message, packet.received_ns), packet.received_ns)

    def _steps(self, steps: Sequence[Step], received_ns: int) -> Iterator[Block]:
        for step in steps:
            match step:
                case StreamStarted():
                    self._begin(step, received_ns)
                case Run(first_frame, samples):
                    yield self._block(first_frame, samples.astype(np.float64))
                case Gap():
                    self.missing += step.frames
                    if step.frames > LONGEST_GAP_S * self._order.rate_hz:
                        self.long_gaps += 1
                    else:
                        empty = np.full((step.frames, self.layout.channels), np.nan)
                        yield self._block(step.first_frame, empty)
                case _:
                    self.unreadable += 1

    def _begin(self, started: StreamStarted, received_ns: int) -> None:
        if self._first_ns is None:
            self._first_ns = received_ns
            self._origin = (started.first_frame, 0.0)
            return
        self.restarts += 1
        self._origin = (started.first_frame, (received_ns - self._first_ns) * 1e-9)

    def _block(self, first_frame: int, samples: Array) -> Block:
        frame, t_s = self._origin
        rate = self._order.rate_hz
        return Block(
            self._order.stream or "", first_frame, t_s + (first_frame - frame) / rate, rate, samples
        )


def recorded_layout(recording: Recording) -> Layout:
    """Return the layout that a recording carries; raise :class:`ExportError`, FileError."""
    name, text = recording.path.name, recording.metadata.get("layout", {}).get("toml")
    if not text:
        raise ExportError(f"{name} carries no layout; give one with --layout")
    return parse_layout(text, f"the layout in {name}")


def _joined(blocks: Iterator[Block]) -> Iterator[Block]:
    """Join blocks that follow each other."""
    held: list[Block] = []
    frames = 0
    for block in blocks:
        last = held[-1] if held else None
        follows = last is not None and (
            last.stream == block.stream
            and last.rate_hz == block.rate_hz
            and last.first_frame + len(last.samples) == block.first_frame
        )
        if held and (not follows or frames >= _STRETCH):
            yield _one(held)
            held, frames = [], 0
        held.append(block)
        frames += len(block.samples)
    if held:
        yield _one(held)


def _one(blocks: list[Block]) -> Block:
    return replace(blocks[0], samples=np.concatenate([b.samples for b in blocks]))
