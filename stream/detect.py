"""The online detector: from loads as they happen to stances, landings and movements.

All transitions are in this file. Slow decisions (quiet standing, a new zero,
the end of a movement) are taken once a row; the landing of the lead foot is
looked for frame by frame. Both depend on frames alone, never on how the
stream was cut. What is looked for is in files of its own: :mod:`stream.stance`,
:mod:`stream.zero_keeper`, :mod:`stream.landing`.

    WATCHING --quiet standing for 1 s--> SET
    SET --the lead side is unloaded, then bears 10 % of body weight--> landing seen
        landing with forward speed --> LANDED (told at once)
        landing without            --> SET still (a step, a leg put down)
    SET --quiet standing again, an empty deck, or too long--> movement without landing
    LANDED --braking is over--> movement with landing --> WATCHING
"""

from __future__ import annotations

import math
from enum import StrEnum

from msgspec.structs import replace

from stream.findings import Finding, MovementEnded
from stream.landing import LEAST_FLIGHT_S, LandingWatch
from stream.movement import STANDARD_GRAVITY
from stream.ring import Ring
from stream.rows import Row, frames_per_row, rows_of
from stream.settings import Settings
from stream.stance import Stance, StanceSeeker
from stream.zero import Zero, ZeroMaker
from stream.zero_keeper import ZeroKeeper

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


class Phase(StrEnum):
    """Where the detector stands."""

    WATCHING = "watching"
    SET = "set"
    LANDED = "landed"


class Detector:
    """The detector of one stream.

    ``online`` holds the feet model's rows frame by frame; ``sides`` is in how
    many parts the deck has a zero; ``maker`` makes the zero that follows the
    present one.
    """

    def __init__(
        self,
        online: Ring,
        rate_hz: float,
        settings: Settings,
        zero: Zero,
        sides: int,
        maker: ZeroMaker,
    ) -> None:
        self._online = online
        self._rate = rate_hz
        self._settings = settings
        self._row_length = frames_per_row(rate_hz)
        self._next_row = -(-online.end // self._row_length) * self._row_length
        self._empty_load = EMPTY_SHARE * settings.lightest_person_kg * STANDARD_GRAVITY
        self.zeros = ZeroKeeper(rate_hz, settings.lightest_person_kg, zero, sides, maker)
        self._stances = StanceSeeker(settings)
        self._landings = LandingWatch(online, rate_hz, settings)
        self.phase = Phase.WATCHING
        self.stance: Stance | None = None
        self.load = math.nan
        self._known_weight: float | None = None
        self._stance_zero = zero
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

    def forget_weight(self) -> None:
        """Somebody else throws from now on."""
        self._known_weight = None

    def broken_off(self) -> MovementEnded | None:
        """Return the movement that the feed broke off; None where nobody was set or landed."""
        if self.phase is Phase.WATCHING:
            return None
        landing = self._landing if self.phase is Phase.LANDED else None
        return self._movement(row_end=self._online.end, landing=landing)

    def advance(self) -> list[Finding]:
        """Look at every frame not yet seen; return what was found, in order."""
        findings: list[Finding] = []
        end = self._online.end
        count = (end - self._next_row) // self._row_length
        if count > 0:
            rows = self._online.view(self._next_row, self._next_row + count * self._row_length)
            for row in rows_of(rows, self._next_row, self._row_length):
                self._look_for_landing(row.end, findings, row)
                self._see_row(row, findings)
            self._next_row += count * self._row_length
        self._look_for_landing(end, findings, None)
        return findings

    def _look_for_landing(self, end: int, findings: list[Finding], row: Row | None) -> None:
        """Look at frames up to ``end``, of which ``row`` may be the last."""
        if self.phase is not Phase.SET:
            self._landings.looked_to = end
            return
        assert self.stance is not None
        seen = self._landings.look(end, self.stance, self._stance_zero, row)
        if seen is not None:
            findings.append(seen)
            self.phase, self._landing = Phase.LANDED, seen.first
            self._braked, self._over_at = False, math.inf
            self._known_weight = self.stance.load

    def _see_row(self, row: Row, findings: list[Finding]) -> None:
        self.load = row.drive_z + row.lead_z - self.zeros.zero.load
        if self.phase is Phase.LANDED:
            self._see_braking(row, findings)
            return
        self.zeros.see(row, findings)
        zero = self.zeros.zero
        stance = self._stances.see(row, zero.load, zero.noise)
        if stance is not None:
            self._take_stance(stance, findings)
        elif self.phase is Phase.SET:
            self._see_movement(row, findings)

    def _take_stance(self, stance: Stance, findings: list[Finding]) -> None:
        old = self.stance
        if self.phase is Phase.SET and old is not None and stance.start > old.end:
            findings.append(self._movement(row_end=stance.start, landing=None))
        restored = self.zeros.doubt(stance.load, self._known_weight, stance.end)
        if restored is not None:
            findings.append(restored)
            step = restored.before.load - restored.zero.load
            self._stances.shift(step)
            stance = replace(stance, load=stance.load + step)
        if old is None or stance.start != old.start or self.phase is not Phase.SET:
            self._landings.restart()
            self._stance_zero = self.zeros.zero
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
            self._stop()

    def _movement(self, row_end: int, landing: int | None) -> MovementEnded:
        assert self.stance is not None
        start = max(self.stance.start, self.stance.end - round(STANCE_S * self._rate))
        kept = Stance(start, self.stance.end, self.stance.load)
        first = max(start, self._online.first)
        return MovementEnded(kept, self.zeros.zero, first, row_end, landing)

    def _stop(self) -> None:
        self.phase, self.stance = Phase.WATCHING, None
        self._landings.restart()
        self._stances.restart()
        self.zeros.restart()
