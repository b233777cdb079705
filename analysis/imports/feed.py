"""What every import ends in: channels at one rate, and the platforms they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.imports.errors import ImportRefusedError
from analysis.imports.layout_text import layout_toml
from stream.layout import Platform
from stream.recording.plain import PlainWriter
from stream.wire import MAX_READING, NS, ForceMessage, Packet, TopicKind, encode_force, topic

Array = npt.NDArray[np.float64]

#: Rates that are taken, Hz.
LEAST_RATE_HZ, MOST_RATE_HZ = 100.0, 2000.0
#: A device's clock has 64 bits: 292 years.
_LAST_NS = 2**63
#: Length of one message, s.
_BLOCK_S = 0.05
STREAM = "imported"


@dataclass(frozen=True, eq=False)
class ForeignFeed:
    """``samples`` (n, channels) as the layout of ``platforms`` wants them; a NaN marks a frame
    that is missing. ``notes`` are the assumptions made, a sentence each.
    """

    rate_hz: float
    samples: Array
    platforms: tuple[Platform, ...]
    notes: tuple[str, ...]
    spare: Mapping[str, int] = field(default_factory=dict)
    first_frame: int = 0

    def layout_text(self) -> str:
        """Return the layout as TOML."""
        return layout_toml(self.samples.shape[1], self.platforms, self.spare, self.notes)

    @property
    def missing(self) -> npt.NDArray[np.bool_]:
        """Frames (n,) that lack a reading."""
        return np.asarray(~np.isfinite(self.samples).all(axis=1))


def check_feed(feed: ForeignFeed) -> None:
    """Raise :class:`ImportRefusedError` where a feed cannot go through the core."""
    if not LEAST_RATE_HZ <= feed.rate_hz <= MOST_RATE_HZ:
        raise ImportRefusedError(
            f"the force channels run at {feed.rate_hz:g} Hz; {LEAST_RATE_HZ:g} to "
            f"{MOST_RATE_HZ:g} Hz are taken"
        )
    if (feed.first_frame + len(feed.samples)) * NS / feed.rate_hz >= _LAST_NS:
        raise ImportRefusedError(
            f"its first frame has the number {feed.first_frame:.3g}, which no device has counted: "
            "check the column of frames"
        )
    there = feed.samples[~feed.missing]
    if not len(there):
        raise ImportRefusedError("it has no frame in which every force channel has a reading")
    largest = float(np.abs(there).max())
    if largest > MAX_READING:
        raise ImportRefusedError(
            f"a force channel says {largest:.3g}, which no pitcher can do: check the units"
        )


def write_recording(path: Path, feed: ForeignFeed, source: str, layout_text: str) -> int:
    """Write ``feed`` as a new recording and return its frames; raise OSError."""
    notes = {"notes": "\n".join(feed.notes), "rate_hz": f"{feed.rate_hz:g}"}
    name = topic(source, TopicKind.FORCE)
    with PlainWriter(path, layout_text=layout_text, extra_metadata={"import": notes}) as writer:
        for start, end in _runs(~feed.missing, max(1, round(_BLOCK_S * feed.rate_hz))):
            frame = feed.first_frame + start
            t_ns = round(frame * 1e9 / feed.rate_hz)
            block = feed.samples[start:end].astype(np.float32)
            message = ForceMessage(source, STREAM, frame, t_ns, feed.rate_hz, block)
            sent_ns = t_ns + round((end - start - 1) * 1e9 / feed.rate_hz)
            writer.write(Packet(name, encode_force(message), sent_ns), t_ns)
    return int((~feed.missing).sum())


def _runs(there: npt.NDArray[np.bool_], longest: int) -> list[tuple[int, int]]:
    """Return [start, end) of the stretches that are there, none longer than ``longest``."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    return [
        (at, min(at + longest, end))
        for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        for at in range(start, end, longest)
    ]
