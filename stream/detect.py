"""The online detector: from loads as they happen to stances, landings and movements.

All transitions are in this file. Slow decisions (quiet standing, a new zero,
the end of a movement) are taken once a row; the landing of the lead foot is
looked for frame by frame. Both depend on frames alone, never on how the
stream was cut.

    WATCHING --quiet standing for 1 s--> SET
    SET --the lead side is unloaded, then bears 10 % of body weight--> landing seen
        landing with forward speed --> LANDED (told at once)
        landing without            --> SET still (a step, a leg put down)
    SET --quiet standing again, an empty deck, or too long--> movement without landing
    LANDED --braking is over--> movement with landing --> WATCHING
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from msgspec.structs import replace

from stream.movement import STANDARD_GRAVITY
from stream.ring import Ring
from stream.rows import Row, frames_per_row, rows_of
from stream.settings import Settings
from stream.stance import Stance, StanceSeeker
from stream.zero import NO_ZERO, Doubt, Load, Zero, ZeroMaker, ZeroSeeker

#: The lead side must have been unloaded this long before a landing, s.
LEAST_FLIGHT_S = 0.10
#: A landing is believed when it reaches this share of body weight, or has held for HELD_S.
SURE_BW = 0.25
HELD_S = 0.015
#: Forward speed of the body (m/s) from which a landing is told at once; the report decides later.
TOLD_SPEED_MPS = 1.2
#: The drive leg must have borne this share of body weight shortly before.
DRIVE_BW = 0.5
#: Filter margin kept after the end of braking, and before the quiet standing, s.
MARGIN_S = 0.10
#: Longest movement from quiet standing to landing, s.
LONGEST_S = 12.0
#: Quiet standing that is kept for the body weight, s.
STANCE_S = 4.0
#: Below this share of the lightest person the deck is empty.
EMPTY_SHARE = 0.25
#: A stance this many times as heavy as the last pitch's is two people's.
TWO_PEOPLE = 1.5
#: An empty deck this long means that the pitcher has gone, not that he jumped, s.
GONE_S = 0.8
TWO_SIDES = 2


class Phase(StrEnum):
    """Where the detector stands."""

    WATCHING = "watching"
    SET = "set"
    LANDED = "landed"


@dataclass(frozen=True, slots=True)
class LandingSeen:
    """The lead foot landed with forward speed near frame ``contact``; told at ``seen``."""

    contact: float
    seen: int
    weight: float

    @property
    def frame(self) -> int:
        """The frame at which this was found."""
        return self.seen


@dataclass(frozen=True, slots=True)
class MovementEnded:
    """A movement out of a stance is over.

    ``start``, ``end`` frame its window; ``landing`` is the frame of the
    landing, None if none was seen.
    """

    stance: Stance
    zero: Zero
    start: int
    end: int
    landing: int | None

    @property
    def frame(self) -> int:
        """The frame at which this was found."""
        return self.end


@dataclass(frozen=True, slots=True)
class ZeroTaken:
    """A new zero is in force; ``before`` is the one it took the place of.

    ``pending``: another part of the deck still waits for its first zero, or
    for one that was asked for.
    """

    zero: Zero
    before: Zero
    pending: bool

    @property
    def frame(self) -> int:
        """The frame at which this was found."""
        return self.zero.frame


Finding = LandingSeen | MovementEnded | ZeroTaken


class Detector:
    """The detector of one stream.

    ``online`` holds the feet model's rows frame by frame; ``sides`` is in how
    many parts the deck has a zero; ``zeros`` makes the zero that follows the
    present one.
    """

    def __init__(
        self,
        online: Ring,
        rate_hz: float,
        settings: Settings,
        zero: Zero,
        sides: int,
        zeros: ZeroMaker,
    ) -> None:
        self._online = online
        self._rate = rate_hz
        self._settings = settings
        self._zero_maker = zeros
        self._has_two = sides == TWO_SIDES
        self._doubts = [Doubt() for _ in range(sides)]
        self._doubtful = False
        self._known_weight: float | None = None
        self._row_length = frames_per_row(rate_hz)
        self._zeros = [ZeroSeeker(rate_hz, settings.lightest_person_kg) for _ in range(sides)]
        for seeker in self._zeros:
            seeker.first = zero.kind == NO_ZERO
        self._stances = StanceSeeker(settings)
        self._empty_load = EMPTY_SHARE * settings.lightest_person_kg * STANDARD_GRAVITY
        self.zero = zero
        #: While set, no zero is learnt unasked; the first one and one asked for still are.
        self.holds_zero = False
        self.phase = Phase.WATCHING
        self.stance: Stance | None = None
        self.load = math.nan
        self._stance_zero = zero
        self._scanned = online.end
        self._next_row = -(-online.end // self._row_length) * self._row_length
        self._air_since: int | None = None
        self._rising: int | None = None
        self._landing = 0
        self._braked = False
        self._over_at = math.inf
        self._empty_rows = 0

    @property
    def is_empty(self) -> bool:
        """Whether nobody was on the deck in the newest row."""
        return abs(self.load) < self._empty_load

    @property
    def bears_two(self) -> bool:
        """Whether the stance of now is too heavy for who threw last: two people's."""
        if self.stance is None or self._known_weight is None:
            return False
        return self.stance.load > TWO_PEOPLE * self._known_weight

    def ask_for_zero(self) -> None:
        """Let the next quiet second become the zero whatever lies on the deck."""
        for seeker in self._zeros:
            seeker.asked = True

    def set_zero(self, zero: Zero) -> None:
        """Let ``zero`` be in force from now on; a movement under way keeps its own."""
        self.zero = zero
        self._doubts = [Doubt() for _ in self._doubts]
        self._doubtful = False
        for seeker in self._zeros:
            seeker.first = seeker.asked = False
            seeker.restart()

    def forget_weight(self) -> None:
        """Somebody else throws from now on."""
        self._known_weight = None

    def advance(self) -> list[Finding]:
        """Look at every frame not yet seen; return what was found, in order."""
        findings: list[Finding] = []
        end = self._online.end
        count = (end - self._next_row) // self._row_length
        if count > 0:
            rows = self._online.view(self._next_row, self._next_row + count * self._row_length)
            for row in rows_of(rows, self._next_row, self._row_length):
                if self.phase is Phase.SET:
                    self._scan(row.end, findings, row)
                self._scanned = row.end
                self._see_row(row, findings)
            self._next_row += count * self._row_length
        if self.phase is Phase.SET:
            self._scan(end, findings, None)
        self._scanned = end
        return findings

    # Frame by frame: the landing.

    def _scan(self, end: int, findings: list[Finding], row: Row | None) -> None:
        """Look at frames up to ``end``; a whole ``row`` may be cleared by its extremes alone."""
        start = self._scanned
        if start >= end:
            return
        assert self.stance is not None
        threshold = self._settings.contact_bw * self.stance.load
        if row is not None and row.start == start and self._rising is None:
            if row.lead_high - self._stance_zero.lead_z < threshold:
                if self._air_since is None:
                    self._air_since = start
                return
            if row.lead_low - self._stance_zero.lead_z >= threshold and self._air_since is None:
                return
        lead = (self._online.view(start, end)[:, 1] - self._stance_zero.lead_z).tolist()
        for frame, load in enumerate(lead, start):
            if self._lands(frame, load, threshold) and self._is_told(frame, findings):
                return

    def _lands(self, frame: int, load: float, threshold: float) -> bool:
        """Follow one frame of the lead side's load; true when a landing has become sure."""
        assert self.stance is not None
        if load < threshold:
            self._rising = None
            if self._air_since is None:
                self._air_since = frame
            return False
        if math.isnan(load) or self._air_since is None:
            return False
        if self._rising is None:
            if frame - self._air_since < LEAST_FLIGHT_S * self._rate:
                self._air_since = None
                return False
            self._rising = frame
        held = frame - self._rising >= HELD_S * self._rate
        return held or load >= SURE_BW * self.stance.load

    def _is_told(self, frame: int, findings: list[Finding]) -> bool:
        """Decide whether a sure landing belongs to a delivery; move to LANDED if so."""
        assert self.stance is not None
        assert self._rising is not None
        contact, self._rising, self._air_since = self._rising, None, None
        first = max(self._online.first, contact - round(0.3 * self._rate))
        drive = self._online.view(first, contact)[:, 0] - self._stance_zero.drive_z
        carried = bool((drive > DRIVE_BW * self.stance.load).any())
        if not carried or not self._forward_speed(contact) >= TOLD_SPEED_MPS:
            return False
        self.phase, self._landing = Phase.LANDED, contact
        self._braked, self._over_at = False, math.inf
        findings.append(LandingSeen(self._crossing(contact), frame, self.stance.load))
        return True

    def _forward_speed(self, contact: int) -> float:
        """Forward speed of the body at ``contact``, m/s, from the impulse since quiet standing."""
        assert self.stance is not None
        start = max(self._online.first, self.stance.end - round(0.5 * self._rate))
        forward = self._online.view(start, contact)[:, 2:4].sum(axis=1)
        forward -= self._stance_zero.drive_x + self._stance_zero.lead_x
        impulse = float(np.nansum(forward)) / self._rate
        return impulse * STANDARD_GRAVITY / self.stance.load

    def _crossing(self, contact: int) -> float:
        """Where the load crossed the threshold, up to the frame ``contact``."""
        assert self.stance is not None
        before, after = (
            self._online.view(contact - 1, contact + 1)[:, 1] - self._stance_zero.lead_z
        ).tolist()
        threshold = self._settings.contact_bw * self.stance.load
        if not before < threshold:
            return float(contact)
        return float(contact - 1 + (threshold - before) / (after - before))

    # Once a row: zero, stance, the end of a movement.

    def _see_row(self, row: Row, findings: list[Finding]) -> None:
        self.load = row.drive_z + row.lead_z - self.zero.load
        if self.phase is Phase.LANDED:
            self._see_braking(row, findings)
            return
        self._seek_zero(row, findings)
        stance = self._stances.see(row, self.zero.load, self.zero.noise)
        if stance is not None:
            self._take_stance(stance, findings)
        elif self.phase is Phase.SET:
            self._see_movement(row, findings)

    def _seek_zero(self, row: Row, findings: list[Finding]) -> None:
        zero = self.zero
        drive, lead = row.drive_z - zero.drive_z, row.lead_z - zero.lead_z
        for side, vertical in enumerate((drive, lead) if self._has_two else (drive + lead,)):
            doubt, seeker = self._doubts[side], self._zeros[side]
            if doubt.before is not None:
                refuted = doubt.see(vertical)
                if refuted is not None:
                    self._restore_zero(side, refuted, row.end, findings)
                    continue
            elif seeker.passes(vertical):
                continue
            if self.holds_zero and not (seeker.first or seeker.asked):
                seeker.restart()
                continue
            load, noise, elsewhere = side_load(row, zero, side if self._has_two else None)
            stretch = seeker.see(row.start, row.end, load, noise, elsewhere)
            if stretch is not None:
                taken = self._zero_maker.from_stretch(self.zero, side, stretch)
                self._take_zero(side, taken, findings)

    def _take_zero(self, side: int, zero: Zero, findings: list[Finding]) -> None:
        before, self.zero = self.zero, zero
        step = zero_step(zero, before)
        self._zeros[side].moved(step)
        self._doubts[side].zero_changed(before, step[0])
        self._doubtful = any(doubt.before is not None for doubt in self._doubts)
        pending = any(seeker.first or seeker.asked for seeker in self._zeros)
        findings.append(ZeroTaken(zero, before, pending))

    def _restore_zero(self, side: int, earlier: Zero, frame: int, findings: list[Finding]) -> None:
        self._take_zero(side, self._zero_maker.restored(self.zero, earlier, side, frame), findings)
        self._zeros[side].restart()

    def _doubt_by_weight(self, stance: Stance, findings: list[Finding]) -> Stance:
        """Restore a zero whose last step is missing from the weight of the pitcher just measured.

        What was taken for a thing was then his own foot.
        """
        for side, doubt in enumerate(self._doubts):
            if doubt.before is None:
                continue
            earlier = doubt.by_weight(stance.load, self._known_weight)
            if earlier is not None:
                before = self.zero.load
                self._restore_zero(side, earlier, stance.end, findings)
                self._stances.shift(before - self.zero.load)
                return replace(stance, load=stance.load + before - self.zero.load)
        return stance

    def _take_stance(self, stance: Stance, findings: list[Finding]) -> None:
        old = self.stance
        if self.phase is Phase.SET and old is not None and stance.start > old.end:
            findings.append(self._movement(row_end=stance.start, landing=None))
        if self._doubtful:
            stance = self._doubt_by_weight(stance, findings)
        if old is None or stance.start != old.start or self.phase is not Phase.SET:
            self._air_since, self._rising = None, None
            self._stance_zero = self.zero
        self.phase, self.stance, self._empty_rows = Phase.SET, stance, 0

    def _see_movement(self, row: Row, findings: list[Finding]) -> None:
        assert self.stance is not None
        too_long = row.end - self.stance.end > LONGEST_S * self._rate
        self._empty_rows = self._empty_rows + 1 if self.load < self._empty_load else 0
        gone = self._empty_rows * self._row_length >= GONE_S * self._rate
        if too_long or gone:
            findings.append(self._movement(row_end=row.end, landing=None))
            self._stop()

    def _see_braking(self, row: Row, findings: list[Finding]) -> None:
        """The movement is over a margin after the lead leg's forward force has come back."""
        assert self.stance is not None
        since = row.start - self._landing
        braking = row.lead_x - self._stance_zero.lead_x
        if braking < -self._settings.contact_bw * self.stance.load:
            self._braked = True
        limit = (self._settings.brake_limit_s + MARGIN_S) * self._rate
        over = self._braked and braking >= 0.0 and since > LEAST_FLIGHT_S * self._rate
        if over:
            self._over_at = min(self._over_at, row.end + MARGIN_S * self._rate)
        if row.end >= min(self._over_at, self._landing + limit):
            findings.append(self._movement(row_end=row.end, landing=self._landing))
            self._known_weight = self.stance.load
            self._stop()

    def _movement(self, row_end: int, landing: int | None) -> MovementEnded:
        assert self.stance is not None
        start = max(self.stance.start, self.stance.end - round(STANCE_S * self._rate))
        kept = Stance(start, self.stance.end, self.stance.load)
        first = max(start, self._online.first)
        return MovementEnded(kept, self.zero, first, row_end, landing)

    def _stop(self) -> None:
        self.phase, self.stance = Phase.WATCHING, None
        self._air_since, self._rising = None, None
        self._stances.restart()
        for seeker in self._zeros:
            seeker.restart()


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
