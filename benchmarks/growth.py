"""Whether replay's time grows straight with the recording, and its memory not at all.

One invented session is repeated with frame numbers and clocks that go on; each
length is replayed by the program itself, as a process of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from benchmarks.feeds import cost_of
from benchmarks.figures import Figure
from benchmarks.soak_day import Feed
from stream.files import load_layout
from stream.recording.plain import PlainWriter


def figures(folder: Path, *, quick: bool, longest_h: float = 6.0) -> Iterator[Figure]:
    """Replay an hour and the longest recording; compare per hour."""
    short_h, long_h = (0.25, 1.0) if quick else (1.0, longest_h)
    (short, short_s, short_mb), (long, long_s, long_mb) = (
        _replayed(folder, hours) for hours in (short_h, long_h)
    )
    yield Figure(
        f"Replay of {long:.1f} h, processor time per hour, times that of {short:.1f} h",
        long_s / long * short / short_s,
        "x",
        1.15,
    )
    yield Figure(f"Replay of {long:.1f} h, greatest memory", long_mb, "MB")
    yield Figure(
        f"Replay of {long:.1f} h, memory beyond that of {short:.1f} h, per hour",
        (long_mb - short_mb) / (long - short),
        "MB/h",
        1.0,
    )


def _replayed(folder: Path, hours: float) -> tuple[float, float, float]:
    """Return (hours of feed, processor time s, greatest memory MB) of one replay."""
    layout = load_layout("two-plates")
    feed = Feed(layout, hours)
    path = folder / "growth.mcap"
    with PlainWriter(path, layout_text=layout.origin_text) as recording:
        for packet in feed:
            recording.write(packet, packet.received_ns)
    seconds, memory_mb = cost_of(["replay", str(path), "--jsonl", "growth.jsonl"], folder)
    path.unlink()
    return feed.hours, seconds, memory_mb
