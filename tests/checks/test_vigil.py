"""Channels that die in the middle of a session are said, with what to do; live ones never."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from stream.checks.evidence import channels_of
from stream.checks.vigil import Vigil
from stream.files import load_layout
from stream.outputs import Fault
from stream.snapshot import Level
from tests.screens.fed_mound import FedMound

Rows = npt.NDArray[np.float32]
RNG = np.random.default_rng(8)


def readings(channels: int, noise: float = 1.0) -> Rows:
    return (noise * RNG.standard_normal((200, channels))).astype(np.float32)


@pytest.mark.parametrize("name", ["two-plates", "tiled", "four-corner"])
def test_a_channel_that_stands_still_after_it_lived_is_named(name: str) -> None:
    layout = load_layout(name)
    vigil = Vigil(layout)
    vigil.look(readings(layout.channels), empty=True)
    assert vigil.sentences() == []
    dead = readings(layout.channels)
    dead[:, 4] = 123.0
    vigil.look(dead, empty=True)
    (said,) = vigil.sentences()
    assert said.level is Level.ALARM
    label = next(c.label for c in channels_of(layout) if c.index == 4)
    assert said.text.lower().startswith(f"{label}: the reading stands still".lower())
    assert "Check the plug" in said.text
    vigil.look(readings(layout.channels), empty=True)
    assert vigil.sentences() == []


def test_what_never_lived_and_what_seldom_changes_is_not_called_dead() -> None:
    layout = load_layout("two-plates")
    vigil = Vigil(layout)
    coarse = np.round(readings(12, noise=0.2))  # an amplifier that seldom shows its last digit
    for _ in range(5):
        vigil.look(coarse, empty=True)
        vigil.look(np.zeros((200, 12), np.float32), empty=True)
    assert vigil.sentences() == []


def test_a_device_that_hides_small_loads_is_not_called_dead() -> None:
    vigil = Vigil(load_layout("two-plates"))
    for _ in range(3):
        vigil.look(np.zeros((200, 12), np.float32), empty=True)
        vigil.look(readings(12), empty=True)  # somebody stands on it, and leaves again
    vigil.look(np.zeros((200, 12), np.float32), empty=True)
    assert vigil.sentences() == []


def test_a_hole_in_the_feed_is_no_dead_channel() -> None:
    layout = load_layout("two-plates")
    vigil = Vigil(layout)
    vigil.look(readings(12), empty=True)
    vigil.look(np.full((200, 12), np.nan, np.float32), empty=True)
    assert vigil.sentences() == []


def test_hum_on_the_empty_deck_is_said_and_a_walk_over_it_is_not() -> None:
    vigil = Vigil(load_layout("two-plates"))
    t = np.arange(200)[:, None] / 200.0
    hum = readings(12) + (20.0 * np.sin(2 * np.pi * 60.0 * t)).astype(np.float32)
    vigil.look(hum, empty=False)  # somebody is on it: his movement would look like noise
    vigil.look(hum, empty=True)
    assert vigil.sentences() == []
    vigil.look(hum, empty=True)
    (said,) = vigil.sentences()
    assert "noise or mains hum of up to" in said.text
    vigil.look(readings(12), empty=True)
    assert vigil.sentences() == []
    step = readings(12)
    step[100:, 2] += 80.0 * np.arange(100)  # a foot lands in the last half second
    vigil.look(step, empty=True)
    assert vigil.sentences() == []


def test_a_reading_at_its_end_is_said() -> None:
    layout = load_layout("tiled")
    vigil = Vigil(layout)
    rows = readings(150)
    rows[50:60, 2] = 4999.0  # Fz of the first tile, full scale 5000 N
    vigil.look(rows, empty=True)
    (said,) = vigil.sentences()
    assert said.level is Level.WARNING
    assert "end of its range" in said.text


def test_the_operator_sees_it_within_two_seconds_and_is_told_once() -> None:
    """Two seconds of the feed; the monitor ticks ten times a second."""
    mound = FedMound()

    def seconds(count: float) -> list[str]:
        told = []
        for _ in range(round(10 * count)):
            mound.bear(0.1)
            told += [o.kind for o in mound.core.tick(mound.now_ns) if isinstance(o, Fault)]
        mound.look()
        return told

    assert seconds(3) == []
    mound.still = 8
    assert seconds(2) == ["still"]
    assert mound.latest is not None
    (said,) = [s for s in mound.latest.sentences if s.key == "still"]
    assert said.text.startswith("Front Fz (channel 8): the reading stands still")
    assert seconds(2) == []


@pytest.mark.parametrize(("newtons", "warns"), [(1.0, False), (3.0, True)])
def test_a_zero_that_drifts_sideways_and_down_is_seen_on_the_empty_deck(
    newtons: float, warns: bool
) -> None:
    """A leaning load is never learnt as a thing, but what the deck reads has moved."""
    mound = FedMound()

    def seconds(count: float) -> None:
        for _ in range(round(10 * count)):
            mound.bear(0.1)
            mound.core.tick(mound.now_ns)
        mound.look()

    seconds(3)
    mound.shift(np.array([newtons, newtons, newtons] + 9 * [0.0]))
    seconds(2)
    assert mound.latest is not None
    # 0.25 % of a usual pitcher's 785 N is 2.0 N.
    assert mound.latest.zero.moved_n == pytest.approx(newtons, abs=0.5)
    assert any(s.key == "zero_moved" for s in mound.latest.sentences) == warns
