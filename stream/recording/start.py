"""What a run of the monitor began with: a replay must begin with the same to give the same."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Self

import msgspec

METADATA_NAME = "session"


class RunStart(msgspec.Struct, frozen=True, kw_only=True):
    """The state of the core before the first message of a recording.

    ``tare`` is the zero in force, one value a raw channel (float64), or None
    where none had been taken. ``session`` is the session's id, "" outside one.
    """

    source: str = ""
    session: str = ""
    recording: int = 1
    pitcher: str = ""
    first_number: int = 1
    tare: tuple[float, ...] | None = None

    def to_metadata(self) -> dict[str, str]:
        """Return the metadata record's map: each value as JSON, floats exactly."""
        return {k: msgspec.json.encode(v).decode() for k, v in msgspec.structs.asdict(self).items()}

    @classmethod
    def from_metadata(cls, content: Mapping[str, str]) -> Self:
        """Read the map back; raise ValueError where a value is not what it should be."""
        known = cls.__struct_fields__
        try:
            plain = {k: msgspec.json.decode(v) for k, v in content.items() if k in known}
            return msgspec.convert(plain, cls)
        except msgspec.MsgspecError as error:
            raise ValueError(f"the recording's start cannot be read: {error}") from None
