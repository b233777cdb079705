"""A network that is cut or slow, and strangers who ask for too much."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import msgspec
import numpy as np
import pytest
import zmq
import zmq.asyncio

from stream.monitor import protocol
from stream.monitor.link import ViewServer
from stream.monitor.protocol import Ask, CaughtUp
from stream.outputs import Output
from stream.pipeline import Pipeline
from stream.wire import ForceMessage, encode_force
from tests.robustness.bullpen import LAYOUT, SOURCE
from tests.transport.feeds import Listener
from tests.transport.proxy import Cable
from tests.transport.waiting import eventually, free_port

Measured = Callable[[str], None]
FRAMES = 2000


def large(number: int) -> bytes:
    samples = np.zeros((FRAMES, 12), np.float32)
    first = number * FRAMES
    return encode_force(ForceMessage(SOURCE, "s", first, first * 5_000_000, 200.0, samples))


@pytest.mark.fault(
    "the network becomes so slow that the feed does not fit through, and is fast again",
    "what did not fit is counted as lost frames, every one; what came is in order; the feed "
    "goes on by itself",
)
async def test_a_slow_network(measured: Measured) -> None:
    port = free_port()
    context = zmq.asyncio.Context()
    device = context.socket(zmq.XPUB)
    device.linger = 0
    device.sndhwm = 8
    device.bind(f"tcp://127.0.0.1:{port}")
    cable = Cable(port)
    await cable.plug()
    sent = 0

    async def send(count: int) -> None:
        nonlocal sent
        for _ in range(count):
            await device.send_multipart([f"moundfeed/{SOURCE}/force".encode(), large(sent)])
            sent += 1
            await asyncio.sleep(0.002)

    core = Pipeline(SOURCE, LAYOUT)
    outputs: list[Output] = []
    taken = 0

    def frames() -> int:
        nonlocal taken
        news, taken = listener.packets[taken:], len(listener.packets)
        outputs.extend(core.receive_many(news))
        return core.continuity.counters.frames

    async with Listener(f"tcp://127.0.0.1:{cable.port}") as listener:
        assert (await device.recv())[:1] == b"\x01"
        await send(20)
        await eventually(lambda: frames() == 20 * FRAMES)
        cable.bytes_per_s = 1_000_000.0
        await send(300)
        slow = frames()
        assert slow < 300 * FRAMES, "it does not fit through"
        cable.bytes_per_s = None

        def goes_on() -> bool:
            return frames() + core.continuity.counters.lost_frames >= sent * FRAMES

        async def until_it_goes_on() -> None:
            while not goes_on():
                await send(1)

        await asyncio.wait_for(until_it_goes_on(), 60)
    counters = core.continuity.counters
    assert counters.lost_frames > 0
    assert counters.frames + counters.lost_frames == core.continuity.expected
    assert (counters.repeated_frames, counters.late_frames, counters.restarts) == (0, 0, 0)
    measured(
        f"{sent * FRAMES} frames sent, {counters.frames} taken, "
        f"{counters.lost_frames} counted as lost, 0 uncounted"
    )
    await cable.cut()
    device.close()
    context.term()


@pytest.mark.fault(
    "a viewer's question that is nested without end", "it is left out; the next is answered"
)
async def test_a_question_nested_without_end_ends_nobody() -> None:
    base = f"inproc://{free_port()}"
    context = zmq.asyncio.Context()
    server = ViewServer(context, [f"{base}-{name}" for name in ("view", "ask", "operate")])
    running = asyncio.create_task(server.run())
    viewer = context.socket(zmq.DEALER)
    viewer.connect(f"{base}-ask")
    nested = msgspec.msgpack.encode({"source": SOURCE, "since": 0})
    nested = b"\x83" + nested[1:] + b"\xa1w" + b"\x91" * 50_000 + b"\x01"
    await viewer.send_multipart([b"1", nested])
    await viewer.send_multipart([b"2", protocol.encode(Ask(SOURCE, 0))])
    answer = await asyncio.wait_for(viewer.recv_multipart(), 30)
    assert answer[0] == b"2"
    assert protocol.decode(answer[1], CaughtUp) == CaughtUp(SOURCE, 0)
    assert not running.done()
    running.cancel()
    await asyncio.wait({running})
    viewer.close(0)
    server.close()
    context.term()
