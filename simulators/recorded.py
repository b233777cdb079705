"""A simulated session as a recording."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from simulators.feed import Sent
from simulators.timeline import Scenario
from stream.layout import Layout
from stream.recording.content import SCENARIO
from stream.recording.plain import PlainWriter
from stream.wire import Packet


def record(path: Path, sent: Iterable[Sent], scenario: Scenario, layout: Layout) -> int:
    """Write ``sent`` to a new recording and return how many messages it holds.

    Raise FileExistsError where ``path`` exists, OSError where it cannot be written.
    """
    count = 0
    with PlainWriter(
        path,
        layout_text=layout.origin_text,
        roster_csv=scenario.roster.to_csv(),
        extra_metadata={SCENARIO: {"text": scenario.note, "seed": str(scenario.seed)}},
    ) as writer:
        for item in sent:
            writer.write(Packet(item.topic, item.payload, item.host_ns), item.device_ns)
            count += 1
    return count
