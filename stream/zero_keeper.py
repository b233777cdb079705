"""Keeps the zero in force while a feed runs: learns it, doubts it, goes back to an earlier one."""

from __future__ import annotations

import math

from stream.findings import Finding, ZeroTaken
from stream.rows import Row
from stream.zero import NO_ZERO, Doubt, Load, Zero, ZeroMaker, ZeroSeeker

TWO_SIDES = 2


class ZeroKeeper:
    """The zero of one stream; the deck has one or two ``sides`` with a zero of their own.

    ``maker`` makes the zero that follows the present one.
    """

    def __init__(
        self,
        rate_hz: float,
        lightest_person_kg: float,
        zero: Zero,
        sides: int,
        maker: ZeroMaker,
    ) -> None:
        self._maker = maker
        self._has_two = sides == TWO_SIDES
        self._seekers = [ZeroSeeker(rate_hz, lightest_person_kg) for _ in range(sides)]
        for seeker in self._seekers:
            seeker.first = zero.kind == NO_ZERO
        self._doubts = [Doubt() for _ in range(sides)]
        self._doubtful = False
        #: Whether each side has had a zero of its own.
        self._known = [zero.kind != NO_ZERO] * sides
        self.zero = zero
        #: While set, no zero is learnt unasked; the first one and one asked for still are.
        self.holds = False

    def ask(self) -> None:
        """Let the next quiet second become the zero whatever lies on the deck."""
        for seeker in self._seekers:
            seeker.asked = True

    def put(self, zero: Zero) -> None:
        """Let ``zero``, taken on purpose, be in force from now on."""
        self.zero = zero
        self._doubts = [Doubt() for _ in self._doubts]
        self._doubtful = False
        self._known = [True] * len(self._known)
        for seeker in self._seekers:
            seeker.first = seeker.asked = False
            seeker.restart()

    def restart(self) -> None:
        """Begin anew: the rows that follow do not join those before."""
        for seeker in self._seekers:
            seeker.restart()

    def see(self, row: Row, findings: list[Finding]) -> None:
        """Take one row; add a new zero to ``findings``."""
        zero = self.zero
        drive, lead = row.drive_z - zero.drive_z, row.lead_z - zero.lead_z
        if self._has_two:
            self._see_side(0, drive, row, zero, findings)
            self._see_side(1, lead, row, zero, findings)
        else:
            self._see_side(0, drive + lead, row, zero, findings)

    def _see_side(
        self, side: int, vertical: float, row: Row, zero: Zero, findings: list[Finding]
    ) -> None:
        doubt, seeker = self._doubts[side], self._seekers[side]
        if doubt.before is not None:
            refuted = doubt.see(vertical)
            if refuted is not None:
                findings.append(self._restore(side, refuted, row.end))
                return
        elif seeker.passes(vertical):
            return
        if self.holds and not (seeker.first or seeker.asked):
            seeker.restart()
            return
        load, noise, elsewhere = side_load(row, zero, side if self._has_two else None)
        stretch = seeker.see(row.start, row.end, load, noise, elsewhere)
        if stretch is not None:
            findings.append(self._take(side, self._maker.from_stretch(self.zero, side, stretch)))

    def doubt(self, weight: float, known: float | None, frame: int) -> ZeroTaken | None:
        """Go back to an earlier zero if the last step is just what is missing from a weight, N.

        What was taken for a thing was then the pitcher's own foot.
        """
        if not self._doubtful:
            return None
        for side, doubt in enumerate(self._doubts):
            earlier = doubt.by_weight(weight, known)
            if earlier is not None:
                return self._restore(side, earlier, frame)
        return None

    def _take(self, side: int, zero: Zero) -> ZeroTaken:
        if self._known[side]:
            self._doubts[side].zero_changed(self.zero, zero.load - self.zero.load)
        self._known[side] = True
        return self._put(side, zero)

    def _put(self, side: int, zero: Zero) -> ZeroTaken:
        before, self.zero = self.zero, zero
        self._seekers[side].moved(zero_step(zero, before))
        self._doubtful = any(doubt.before is not None for doubt in self._doubts)
        pending = any(seeker.first or seeker.asked for seeker in self._seekers)
        return ZeroTaken(zero, before, pending)

    def _restore(self, side: int, earlier: Zero, frame: int) -> ZeroTaken:
        self._doubts[side].taken_back()
        taken = self._put(side, self._maker.restored(self.zero, earlier, side, frame))
        self._seekers[side].restart()
        return taken


def zero_step(after: Zero, before: Zero) -> Load:
    """Return by how much a zero went up."""
    return (
        after.load - before.load,
        after.drive_x + after.lead_x - before.drive_x - before.lead_x,
        after.drive_y + after.lead_y - before.drive_y - before.lead_y,
    )


def side_load(row: Row, zero: Zero, side: int | None) -> tuple[Load, float, Load]:
    """Return a row's load on side 0 (drive) or 1 (lead), its noise (N), and the load elsewhere.

    With None that of the whole deck.
    """
    drive = row.drive_z - zero.drive_z, row.drive_x - zero.drive_x, row.drive_y - zero.drive_y
    lead = row.lead_z - zero.lead_z, row.lead_x - zero.lead_x, row.lead_y - zero.lead_y
    if side == 0:
        return drive, row.drive_noise, lead
    if side == 1:
        return lead, row.lead_noise, drive
    whole = drive[0] + lead[0], drive[1] + lead[1], drive[2] + lead[2]
    return whole, math.hypot(row.drive_noise, row.lead_noise), (0.0, 0.0, 0.0)
