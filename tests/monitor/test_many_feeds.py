"""Many mounds through one broker and one monitor, with everything that a monitor has."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

from stream.access.address import parse_address
from stream.access.broker import Broker
from stream.access.options import ConnectionOptions
from stream.files import load_layout
from stream.monitor.compose import run_plan
from stream.monitor.plan import Plan
from stream.recording.reader import read_recording
from tests.transport.feeds import BLOCK, force
from tests.transport.mosquitto import Mosquitto
from tests.transport.waiting import eventually

MOUNDS = 64
BLOCKS = 20


async def test_sixty_four_feeds_through_one_broker(broker: Mosquitto, tmp_path: Path) -> None:
    """Each has its core, its counters and its health message; nothing is lost or mixed up."""
    names = [f"mound-{n:02d}" for n in range(MOUNDS)]
    file = tmp_path / "all.mcap"
    plan = Plan(
        feed=broker.url,
        layout=load_layout("two-plates").origin_text,
        record=str(file),
        publish=broker.url,
    )
    health: dict[str, dict[str, object]] = {}
    async with Broker(parse_address(broker.url), ConnectionOptions()).connect() as outside:
        await outside.subscribe(["moundfeed/+/health", "moundfeed/+/session"])
        monitor = asyncio.create_task(run_plan(plan))
        await eventually(lambda: broker.log.read_text().count("moundfeed/+/force") >= 1)
        for block in range(BLOCKS):
            for name in names:
                await outside.publish(f"moundfeed/{name}/force", force(block, name), 1)
        sessions: set[str] = set()
        async with asyncio.timeout(60):
            while sum(_frames(h) for h in health.values()) < MOUNDS * BLOCKS * BLOCK:
                for message in await outside.take(500):
                    name, kind = message.topic.split("/")[1:]
                    if kind == "session":
                        sessions.add(name)
                    else:
                        health[name] = json.loads(bytes(message.payload))
    assert sorted(health) == names
    assert sorted(sessions) == names
    for name in names:
        feed = health[name]["feed"]
        assert isinstance(feed, dict)
        assert (feed["frames"], feed["lost_frames"]) == (BLOCKS * BLOCK, 0)
    monitor.cancel()
    await asyncio.wait({monitor})
    came = [p for p in read_recording(file).packets() if p.topic.endswith("/force")]
    assert len(came) == MOUNDS * BLOCKS


def _frames(health: dict[str, object]) -> int:
    feed = health["feed"]
    assert isinstance(feed, dict)
    return int(feed["frames"])
