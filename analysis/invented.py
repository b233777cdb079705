"""Whether a recording says of itself that nothing in it was measured: the one place to ask."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from stream.files import FileError
from stream.recording.content import SCENARIO
from stream.recording.reader import Recording, read_recording

#: A word where there is no room for more.
WORD = "invented"
SENTENCE = "Invented data: the recording says that it was simulated. No real person was measured."


def says_invented(recording: Recording) -> bool:
    """Tell whether ``recording`` says that it was simulated."""
    return SCENARIO in recording.metadata


def any_invented(recordings: Iterable[Path]) -> bool:
    """Tell whether any of ``recordings`` says so; one that cannot be read says nothing."""
    for path in recordings:
        with suppress(FileError, OSError):
            if says_invented(read_recording(path)):
                return True
    return False
