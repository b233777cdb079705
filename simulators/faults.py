"""Faults of devices and links, each a small transform; they may be combined.

On the command line: ``name[:value][@seconds]``; from ``seconds`` on (default:
from the beginning). Some act on the readings, some on messages, some on the
bytes sent; :data:`FAULTS` says which and what the value means.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from simulators import faulty_link, faulty_readings
from simulators.curves import Array
from simulators.faulty_link import Fault
from simulators.feed import Device, Sent, Timed
from stream.layout import Layout
from stream.wire import Samples


class FaultError(ValueError):
    """A fault that cannot be; the text says what can."""


#: Acts on readings: (samples float64 (n, channels), t (n,) s since its beginning, layout, value).
OnReadings = Callable[[Array, Array, Layout, float], None]
OnMessages = Callable[[Iterator[Timed], Fault, np.random.Generator], Iterator[Timed]]
OnBytes = Callable[[Iterator[Sent], Fault, np.random.Generator], Iterator[Sent]]


@dataclass(frozen=True, slots=True)
class Kind:
    """What a fault is: its default value, what it does in words, and how."""

    default: float
    say: str
    readings: OnReadings | None = None
    messages: OnMessages | None = None
    bytes: OnBytes | None = None


FAULTS: dict[str, Kind] = {
    "lost": Kind(0.01, "share of blocks that never arrive", bytes=faulty_link.lost),
    "duplicated": Kind(0.01, "share of blocks that arrive twice", bytes=faulty_link.duplicated),
    "disordered": Kind(0.01, "share of blocks that change places", bytes=faulty_link.disordered),
    "truncated": Kind(0.01, "share of blocks cut short", bytes=faulty_link.truncated),
    "nan": Kind(
        1.0,
        "a reading that is not a number every so many seconds",
        readings=faulty_readings.not_a_number,
    ),
    "restart": Kind(
        2.0, "the device is off for so many seconds, then begins anew", messages=faulty_link.restart
    ),
    "clock_step": Kind(
        5.0, "the device's clock jumps by so many seconds", messages=faulty_link.clock_step
    ),
    "rate": Kind(188.0, "the true sampling rate, Hz, while 200 is announced"),
    "dead": Kind(2.0, "this channel reads 0", readings=faulty_readings.dead),
    "stuck": Kind(2.0, "this channel reads always the same", readings=faulty_readings.stuck),
    "sign_flip": Kind(2.0, "this channel has the wrong sign", readings=faulty_readings.sign_flip),
    "swapped_axes": Kind(0.0, "x and y change places", readings=faulty_readings.swapped_axes),
    "swapped_platforms": Kind(
        0.0, "first and last platform change places", readings=faulty_readings.swapped_platforms
    ),
    "mirrored": Kind(0.0, "left and right change places", readings=faulty_readings.mirrored),
    "gain": Kind(1.1, "all readings times this", readings=faulty_readings.gain),
    "moment_origin": Kind(
        0.05, "moments about a point so many metres off", readings=faulty_readings.moment_origin
    ),
    "drift": Kind(60.0, "the zero drifts, N a minute", readings=faulty_readings.drift),
    "hum": Kind(20.0, "mains at 60 Hz, N", readings=faulty_readings.hum),
}
_TEXT = re.compile(r"([a-z_]+)(?::(-?[0-9.]+(?:e-?[0-9]+)?))?(?:@([0-9.]+))?\Z")


def parse_fault(text: str) -> Fault:
    """Return the fault in ``name[:value][@seconds]``; raise :class:`FaultError`."""
    match = _TEXT.match(text)
    if match is None or match[1] not in FAULTS:
        raise FaultError(f"{text!r} is no fault; there are {', '.join(FAULTS)}")
    try:
        value = FAULTS[match[1]].default if match[2] is None else float(match[2])
        return Fault(match[1], value, float(match[3] or 0.0))
    except ValueError:
        raise FaultError(f"{text!r}: value and seconds are numbers") from None


def wrong_device(device: Device, faults: Sequence[Fault]) -> Device:
    """Return ``device``, sampling at another rate than it says where that is asked for."""
    for fault in faults:
        if fault.name == "rate":
            device = replace(device, true_rate_hz=fault.value)
    return device


def spoiler(layout: Layout, faults: Sequence[Fault]) -> Callable[[Samples, Array], Samples] | None:
    """Return what the faults do to readings (n, channels) at ``t`` s, or None if nothing."""
    active = [(f, kind) for f in faults if (kind := FAULTS[f.name].readings) is not None]
    if not active:
        return None

    def spoil(samples: Samples, t: Array) -> Samples:
        spoilt = samples.astype(np.float64)
        for fault, act in active:
            since = int(np.searchsorted(t, fault.at))
            if since < t.size:
                act(spoilt[since:], t[since:] - fault.at, layout, fault.value)
        return spoilt.astype(np.float32)

    return spoil


def wrong_messages(items: Iterator[Timed], faults: Sequence[Fault], seed: int) -> Iterator[Timed]:
    """Return the messages with the faults that act on messages."""
    for k, fault in enumerate(faults):
        act = FAULTS[fault.name].messages
        if act is not None:
            items = act(items, fault, np.random.default_rng([seed, 11, k]))
    return items


def wrong_bytes(items: Iterator[Sent], faults: Sequence[Fault], seed: int) -> Iterator[Sent]:
    """Return the sent bytes with the faults that act on them."""
    for k, fault in enumerate(faults):
        act = FAULTS[fault.name].bytes
        if act is not None:
            items = act(items, fault, np.random.default_rng([seed, 12, k]))
    return items


def check_faults(faults: Sequence[Fault], layout: Layout) -> None:
    """Raise :class:`FaultError` where a fault names a channel that the layout does not have."""
    for fault in faults:
        if fault.name in ("dead", "stuck", "sign_flip") and not 0 <= fault.value < layout.channels:
            raise FaultError(f"channel {fault.value:g} is not between 0 and {layout.channels - 1}")


def place_in_streams(
    device: Device, faults: Sequence[Fault]
) -> Callable[[float], tuple[str, float]]:
    """Return how a time of the scenario (s) becomes the stream's name and the frame in it.

    After a restart frames count from the new beginning; what happened while
    the device was off gets a negative frame.
    """
    for fault in faults:
        if fault.name == "restart":
            again = fault.at + fault.value
            blocks = np.ceil(device.frame(again) / device.block - 1.0)
            first = max(float(blocks), 0.0) * device.block
            return lambda time: (
                (device.stream, device.frame(time))
                if time < fault.at
                else (faulty_link.restarted(device.stream), device.frame(time) - first)
            )
    return lambda time: (device.stream, device.frame(time))
