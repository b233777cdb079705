"""Pictures of a replay, its deck and its dialog, at a small and a usual size."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from textual.pilot import Pilot

from stream.recording.reader import Recording
from tests.replay_screen.test_replay_screen import app_of, recording, settle
from tests.screens.pictures import Compare, at_sizes, seen

__all__ = ["recording"]


@pytest.fixture(autouse=True)
def by_utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Write when it was recorded in the same time everywhere."""
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


async def at_the_first_pitch(pilot: Pilot[None]) -> None:
    await pilot.press("space", "right")
    await settle(pilot)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ((), ("PITCH 1", "paused · at pitch 1")),
        (("d",), ("home plate ▶", "paused · at pitch 1", "ZERO")),
        (("j",), ("Go to which time?",)),
        (("question_mark",), ("Next pitch",)),
    ],
    ids=["pitch", "deck", "jump", "help"],
)
@at_sizes
def test_replay(
    recording: Recording,
    snap_compare: Compare,
    size: tuple[int, int],
    keys: tuple[str, ...],
    words: tuple[str, ...],
) -> None:
    before = seen(*words, keys=keys, begin=at_the_first_pitch)
    assert snap_compare(app_of(recording), terminal_size=size, run_before=before)
