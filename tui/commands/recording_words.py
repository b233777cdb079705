"""What a user must know of a recording before trusting what comes of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stream.recording.reader import Recording


def damage(recording: Recording) -> Iterator[str]:
    """Yield what was lost, after a pass over the recording."""
    if recording.head_damage:
        yield (
            "The beginning of the recording is damaged; what it said of layout, settings, roster "
            "or first pitcher may be missing. Give them with --layout, --settings, --pitchers."
        )
    if recording.truncated:
        yield "The recording was not closed (a crash or power cut); it ends with what was saved."
    yield from recording.report.sentences()
