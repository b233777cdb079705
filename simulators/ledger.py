"""The truth of a session, as JSON lines with the pitch record's names."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from simulators.feed import Device
from simulators.timeline import NotAPitch, Scenario, Thrown

#: Turns a time of the scenario (s) into the stream's name and the fractional frame in it.
Where = Callable[[float], tuple[str, float]]


def truth_lines(
    scenario: Scenario, device: Device, where: Where | None = None
) -> Iterator[dict[str, Any]]:
    """Yield one object a pitch and one a movement that must not be counted, in order of time."""
    place = where or (lambda time: (device.stream, device.frame(time)))
    happened: list[Thrown | NotAPitch] = [*scenario.pitches, *scenario.not_pitches]
    for item in sorted(happened, key=lambda h: h.contact if isinstance(h, Thrown) else h.time):
        if isinstance(item, Thrown):
            yield _pitch(item, device, place)
        else:
            stream, frame = place(item.time)
            yield {
                "v": 1,
                "source": device.source,
                "stream": stream,
                "not_counted": item.reason.value,
                "frame": round(frame, 3),
                "activity": item.activity,
            }


def _pitch(thrown: Thrown, device: Device, place: Where) -> dict[str, Any]:
    truth, profile = thrown.truth(), thrown.delivery.profile
    stream, frame = place(thrown.start + truth.contact)
    return {
        "v": 1,
        "source": device.source,
        "stream": stream,
        "number": thrown.number,
        "pitcher": profile.code,
        "throws": profile.throws,
        "foot_contact_frame": frame,
        "events_s": truth.events_s,
        "body_weight_n": truth.body_weight_n,
        "metrics": truth.metrics,
        "speed_mps": thrown.speed_mps,
        "style": thrown.delivery.draw.style.value,
    }
