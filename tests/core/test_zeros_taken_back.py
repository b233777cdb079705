"""Zeros that are taken back, and those that never are (invented loads)."""

from __future__ import annotations

import math

import numpy as np

from stream.findings import Finding, ZeroTaken
from stream.rows import Row
from stream.zero import LEARNT, NO_ZERO, Stretch, Zero
from stream.zero_keeper import ZeroKeeper

#: Invented offsets of the drive and the lead side, N.
OFFSETS = (142.8, 131.3)


def zero(drive: float, lead: float, kind: str) -> Zero:
    return Zero(np.zeros(2), drive, lead, 0.0, 0.0, 0.0, 0.0, noise=0.0, frame=0, kind=kind)


class Maker:
    """Makes the zero of a side from its offset, or of a whole deck from what it bears."""

    def __init__(self, borne: dict[int, float] | None = None) -> None:
        self._borne = borne

    def from_stretch(self, present: Zero, side: int, stretch: Stretch) -> Zero:
        if self._borne is not None:
            return zero(0.0, self._borne[stretch.end // 10 - 1], LEARNT)
        loads = [present.drive_z, present.lead_z]
        loads[side] = OFFSETS[side]
        return zero(loads[0], loads[1], LEARNT)

    def restored(self, present: Zero, earlier: Zero, side: int, frame: int) -> Zero:
        return earlier


def row(number: int, drive: float, lead: float) -> Row:
    return Row(10 * number, 10 * number + 10, drive, lead, 0, 0, 0, 0, lead, lead, 0.5, 0.5)


def test_a_lighter_person_does_not_take_back_the_first_zero_of_a_side() -> None:
    keeper = ZeroKeeper(200.0, 40.0, zero(0.0, 0.0, NO_ZERO), 2, Maker())
    findings: list[Finding] = []
    for number in range(60):  # somebody fidgets on the drive side, then has gone
        fidget = 300.0 * math.sin(number) + 400.0 if number < 30 else 0.0
        keeper.see(row(number, OFFSETS[0] + fidget, OFFSETS[1]), findings)
    assert [f.zero.load for f in findings if isinstance(f, ZeroTaken)] == [OFFSETS[1], sum(OFFSETS)]
    # The last one weighed just as much more as the drive side's offset is.
    assert keeper.doubt(800.0, 800.0 + OFFSETS[0], 700) is None
    # Nor does a push that lifts the side take it back.
    for number in range(60, 66):
        keeper.see(row(number, OFFSETS[0] - 200.0, OFFSETS[1]), findings)
    assert keeper.zero.load == sum(OFFSETS)


def test_somebody_learnt_foot_by_foot_is_taken_back_foot_by_foot() -> None:
    # A rigid deck: half a light person stays put, then the other half; then nobody is there.
    loads = dict(enumerate([0.0] * 30 + [286.0] * 25 + [572.0] * 25 + [0.0] * 6))
    keeper = ZeroKeeper(200.0, 40.0, zero(0.0, 0.0, NO_ZERO), 1, Maker(loads))
    seen = []
    for number, load in loads.items():
        keeper.see(row(number, 0.0, load), [])
        seen.append(keeper.zero.load)
    assert seen[54] == 286.0
    assert seen[79] == 572.0
    assert seen[-1] == 0.0
