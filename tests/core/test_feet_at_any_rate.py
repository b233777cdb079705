"""Which foot bears what does not depend on how often it is sampled; invented loads."""

from __future__ import annotations

import numpy as np
import pytest

from stream.feet import SplitInput, feet_model
from stream.files import load_layout
from stream.layout import Layout

LANDING = 20


def pressed(layout: Layout, x: float, newtons: float) -> np.ndarray:
    """One frame (channels,) with a load on the platform whose middle is nearest to ``x`` m."""
    frame = np.zeros(layout.channels)
    platform = min(layout.platforms, key=lambda p: abs(p.centre[0] - x) + abs(p.centre[1]))
    frame[platform.channels[2]] = newtons
    return frame


@pytest.mark.parametrize("times", [2, 5])
def test_on_tiles_the_boundary_lies_behind_the_foot_at_any_rate(times: int) -> None:
    # The foot slides on while it lands; then the drive foot drags over a tile between the two.
    layout = load_layout("tiled")
    rows = [pressed(layout, 0.1, 800.0)] * LANDING
    rows += [pressed(layout, 1.2, 900.0)] * 6 + [pressed(layout, 1.9, 900.0)] * 6
    rows += [pressed(layout, 1.9, 900.0) + pressed(layout, 1.0, 50.0)] * 28
    samples = np.array(rows)
    model = feet_model(layout)
    nothing = np.zeros(layout.channels)
    usual = model.loads(samples, nothing, LANDING, 200.0)
    often = model.loads(np.repeat(samples, times, axis=0), nothing, LANDING * times, 200.0 * times)
    np.testing.assert_allclose(often, np.repeat(usual, times, axis=0), atol=1e-9)


@pytest.mark.parametrize("times", [2, 5])
def test_on_one_deck_the_drive_foot_is_seen_over_the_same_time_at_any_rate(times: int) -> None:
    # In the last 10 ms before the landing the drive foot's force leans elsewhere already.
    layout = load_layout("four-corner")
    rows = [leaning(layout, 0.1, 100.0)] * (LANDING - 2) + [leaning(layout, 0.1, 400.0)] * 2
    rows += [leaning(layout, 0.5, 0.0)] * 2 + [leaning(layout, 1.5, 0.0)] * 36
    samples = np.array(rows)
    usual, often = told_apart(layout, samples, 1), told_apart(layout, samples, times)
    np.testing.assert_allclose(often, np.repeat(usual, times, axis=0), atol=1e-9)


def leaning(layout: Layout, x: float, forward: float) -> np.ndarray:
    """One frame (channels,) of a deck on cells: 800 N at ``x`` m, and a forward force, N."""
    cells = layout.platforms[0].channels
    back, front = layout.deck.back, layout.deck.front
    share = (x - back) / (front - back)
    frame = np.zeros(layout.channels)
    frame[list(cells[2::3])] = 400.0 * np.array([share, 1.0 - share, 1.0 - share, share])
    frame[list(cells[0::3])] = forward / 4.0
    return frame


def told_apart(layout: Layout, samples: np.ndarray, times: int) -> np.ndarray:
    """The drive foot's force (n, 3), every sample taken ``times`` over at as high a rate."""
    model = feet_model(layout)
    often, rate_hz = np.repeat(samples, times, axis=0), 200.0 * times
    landing = LANDING * times
    loads = model.loads(often, np.zeros(layout.channels), landing, rate_hz)
    drive, _, _ = model.tell_apart(SplitInput(loads, loads, landing, rate_hz, 40.0))
    return drive.force
