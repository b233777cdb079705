"""Faults of the device's software and of the link: what they do to messages and bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from simulators.feed import Sent, Timed
from stream.wire import ForceMessage, SpeedMessage


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault asked for: its name, its value, and from when on (s of the scenario)."""

    name: str
    value: float
    at: float


def clock_step(items: Iterator[Timed], fault: Fault, rng: np.random.Generator) -> Iterator[Timed]:
    """The device's clock jumps by ``value`` s."""
    step = round(fault.value * 1e9)
    for item in items:
        content = item.content
        if item.time >= fault.at and isinstance(content, ForceMessage):
            changed = ForceMessage(
                content.source, content.stream, content.first_frame, content.t_ns + step,
                content.rate_hz, content.samples,
            )  # fmt: skip
            yield replace(item, content=changed)
        elif item.time >= fault.at and isinstance(content, SpeedMessage):
            changed_speed = SpeedMessage(content.source, content.t_ns + step, content.speed_mps)
            yield replace(item, content=changed_speed)
        else:
            yield item


def restart(items: Iterator[Timed], fault: Fault, rng: np.random.Generator) -> Iterator[Timed]:
    """The device is off for ``value`` s and begins a new stream at frame 0."""
    first: int | None = None
    for item in items:
        content = item.content
        if not isinstance(content, ForceMessage) or item.time < fault.at:
            yield item
        elif item.time >= fault.at + fault.value:
            first = content.first_frame if first is None else first
            changed = ForceMessage(
                content.source, restarted(content.stream), content.first_frame - first,
                content.t_ns, content.rate_hz, content.samples,
            )  # fmt: skip
            yield replace(item, content=changed)


def restarted(stream: str) -> str:
    """Return the name of the stream after a restart of ``stream``."""
    return f"{stream}-again"


def lost(items: Iterator[Sent], fault: Fault, rng: np.random.Generator) -> Iterator[Sent]:
    """A share of blocks never arrives."""
    for item in items:
        if not (_is_force(item, fault) and rng.random() < fault.value):
            yield item


def duplicated(items: Iterator[Sent], fault: Fault, rng: np.random.Generator) -> Iterator[Sent]:
    """A share of blocks arrives twice."""
    for item in items:
        yield item
        if _is_force(item, fault) and rng.random() < fault.value:
            yield item


def disordered(items: Iterator[Sent], fault: Fault, rng: np.random.Generator) -> Iterator[Sent]:
    """Now and then a block comes after the next one."""
    held: Sent | None = None
    for item in items:
        if held is not None:
            yield replace(item, host_ns=held.host_ns)
            yield replace(held, time=item.time, host_ns=item.host_ns)
            held = None
        elif _is_force(item, fault) and rng.random() < fault.value:
            held = item
        else:
            yield item
    if held is not None:
        yield held


def truncated(items: Iterator[Sent], fault: Fault, rng: np.random.Generator) -> Iterator[Sent]:
    """A share of blocks is cut short."""
    for item in items:
        if _is_force(item, fault) and rng.random() < fault.value:
            yield replace(item, payload=item.payload[: int(rng.integers(1, len(item.payload)))])
        else:
            yield item


def _is_force(item: Sent, fault: Fault) -> bool:
    return item.time >= fault.at and item.topic.endswith("/force")
