"""The deck's statics: what the platforms read is what the feet do to them."""

from __future__ import annotations

import numpy as np
import pytest

from simulators.contacts import Contact, Role
from simulators.curves import Array
from simulators.deck import Plates
from simulators.sensor import Imperfections, Sensor
from stream.layout import Layout
from tests.simulators.simulated import delivery, layout, total_force

LAYOUTS = ("two-plates", "tiled", "four-corner")


def _foot(x: float, y: float, force: tuple[float, float, float], twist: float = 0.0) -> Contact:
    return Contact(
        Role.OTHER,
        0.0,
        1.0,
        lambda t: np.tile(force, (t.size, 1)),
        lambda t: np.tile([x, y], (t.size, 1)),
        0.05,
        0.05,
        twist,
    )


def _wrench_about_origin(deck: Layout, channels: Array) -> Array:
    """Total force and moment about the rubber's front edge, by the layout's own matrices."""
    whole = np.zeros((len(channels), 6))
    for p in deck.platforms:
        wrench = channels[:, list(p.channels)] @ p.to_wrench.T
        whole[:, :3] += wrench[:, :3]
        whole[:, 3:] += wrench[:, 3:] + np.cross(p.centre, wrench[:, :3])
    return whole


@pytest.mark.parametrize("name", LAYOUTS)
def test_whole_force_is_kept_by_every_layout(name: str) -> None:
    deck, d = layout(name), delivery(1)
    t = np.arange(d.push, d.contact + 0.4, 5e-3)
    whole = _wrench_about_origin(deck, Plates(deck).read(d.contacts, t))
    assert np.allclose(whole[:, :3], total_force(d.contacts, t), atol=1e-6)


@pytest.mark.parametrize("name", ["two-plates", "four-corner"])
@pytest.mark.parametrize(("x", "y"), [(0.05, 0.1), (1.5, -0.3), (0.15, 0.0)])
def test_moment_is_force_times_arm(name: str, x: float, y: float) -> None:
    deck = layout(name)
    force, twist = (300.0, -120.0, 900.0), 0.01
    whole = _wrench_about_origin(
        deck, Plates(deck).read([_foot(x, y, force, twist)], np.array([0.5]))
    )[0]
    place = np.array([x, y, float(deck.deck.height(x))])
    expected = np.cross(place, force) + np.array([0.0, 0.0, twist * 900.0])
    # A print across the break of slope bears on two surfaces: centimetres of height at most.
    assert np.allclose(whole[3:], expected, atol=2.0 if x == 0.15 else 1e-6)


def test_a_print_across_two_tiles_is_shared_by_area() -> None:
    deck = layout("tiled")
    # A print 0.10 m wide, 0.03 m of it in front of the edge between rows at x = 0.1524 m.
    channels = Plates(deck).read([_foot(0.1324, 0.0, (0.0, 0.0, 1000.0))], np.array([0.5]))[0]
    by_row: dict[str, float] = {}
    for p in deck.platforms:
        by_row.setdefault(p.name[:3], 0.0)
        by_row[p.name[:3]] += (p.axes @ channels[list(p.channels)])[2]
    assert by_row["r02"] == pytest.approx(700.0)
    assert by_row["r03"] == pytest.approx(300.0)


def test_two_plates_divide_at_the_break_of_slope() -> None:
    deck = layout()
    rear = Plates(deck).read([_foot(0.05, 0.0, (0.0, 0.0, 800.0))], np.array([0.5]))[0]
    assert rear[2] == pytest.approx(800.0)
    assert np.abs(rear[6:]).max() == 0.0
    front = Plates(deck).read([_foot(1.5, 0.0, (0.0, 0.0, 800.0))], np.array([0.5]))[0]
    # Official Baseball Rules 2.01: the slope falls 1 inch per foot, 4.76 degrees.
    angle = np.arctan(1 / 12)
    assert np.degrees(angle) == pytest.approx(4.76, abs=0.01)
    assert front[8] == pytest.approx(800.0 * np.cos(angle))
    assert front[6] == pytest.approx(-800.0 * np.sin(angle))


def test_beside_the_deck_nothing_is_felt() -> None:
    for name in LAYOUTS:
        deck = layout(name)
        assert not Plates(deck).read([_foot(0.5, 1.2, (0.0, 0.0, 800.0))], np.array([0.5])).any()
        half = Plates(deck).read([_foot(0.5, 0.762, (0.0, 0.0, 800.0))], np.array([0.5]))
        assert _wrench_about_origin(deck, half)[0, 2] == pytest.approx(400.0)


def test_drive_foot_stands_before_the_rubber_and_the_lead_foot_lands_on_the_slope() -> None:
    # Official Baseball Rules 2.01, 2.04: rubber 6 in deep, then 6 in level, then the slope.
    rubber, level = 0.1524, 0.1524
    for seed in range(12):
        d = delivery(seed)
        drive = next(c for c in d.contacts if c.start == pytest.approx(d.push, abs=1e-6))
        start = drive.pressure(np.array([d.push]))[0]
        assert -rubber < start[0] < level
        assert abs(start[1]) < 0.3048 + 0.15  # half of the rubber's 24 in, and a foot's length
        lead = next(c for c in d.contacts if abs(c.start - d.contact) < 0.01)
        place = lead.pressure(np.array([d.contact + 0.05]))[0]
        assert level < place[0] < 2.5908
        assert abs(place[1]) < 0.762


def test_sensors_are_as_imperfect_as_asked() -> None:
    deck = layout()
    t = np.arange(40_000) / 200.0
    how = Imperfections(offset_n=0.0, noise_n=5.0, hum_n=8.0, hum_hz=60.0)
    x = Sensor(deck, how, 1).read(np.zeros((t.size, 12)), t).astype(float)
    spectrum = np.abs(np.fft.rfft(x[:, 2])) * 2 / t.size
    frequency = np.fft.rfftfreq(t.size, 1 / 200.0)
    assert spectrum[np.argmin(abs(frequency - 60.0))] == pytest.approx(8.0, abs=0.3)
    assert np.sqrt(x[:, 2].var() - 8.0**2 / 2) == pytest.approx(5.0, rel=0.03)
    offset = Sensor(deck, Imperfections(offset_n=20.0, noise_n=0.0), 1).read(x * 0, t)
    assert np.ptp(offset, axis=0).max() == 0.0
    assert np.abs(offset).max() > 5.0


def test_sensors_saturate_at_their_full_scale() -> None:
    deck = layout()
    x = Sensor(deck, Imperfections.none(), 1).read(np.full((1, 12), 1e6), np.zeros(1))
    assert deck.platforms[0].range is not None
    assert tuple(x[0, :6]) == deck.platforms[0].range
