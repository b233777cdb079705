"""What a recording carries beside the feed, and the device's time of a message."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from stream.recording.container import MetadataMaps
from stream.wire import DECODE_ERRORS, Payload

#: Name of the metadata record of a simulated recording: how it was made, under "text".
SCENARIO = "scenario"


class _Stamp(msgspec.Struct):
    t_ns: int


_packed = msgspec.msgpack.Decoder(_Stamp)
_json = msgspec.json.Decoder(_Stamp)


def recording_metadata(
    layout_text: str = "",
    roster_csv: str = "",
    settings_text: str = "",
    extra_metadata: MetadataMaps | None = None,
) -> dict[str, Mapping[str, str]]:
    """Return the metadata records of a recording; a text that is empty is left out."""
    maps: dict[str, Mapping[str, str]] = {}
    if layout_text:
        maps["layout"] = {"toml": layout_text}
    if roster_csv:
        maps["roster"] = {"csv": roster_csv}
    if settings_text:
        maps["settings"] = {"toml": settings_text}
    return {**maps, **(extra_metadata or {})}


def device_time(payload: Payload, received_ns: int) -> int:
    """Return the message's own time in ns, or ``received_ns`` where it tells none."""
    decoder = _json if payload[:1] == b"{" else _packed
    try:
        return decoder.decode(payload).t_ns
    except DECODE_ERRORS:
        return received_ns
