"""The landing of the lead foot, looked for frame by frame while a pitcher is set."""

from __future__ import annotations

import math

import numpy as np

from stream.findings import LandingSeen
from stream.movement import STANDARD_GRAVITY
from stream.ring import Ring
from stream.rows import Row
from stream.settings import Settings
from stream.stance import Stance
from stream.zero import Zero

#: The lead side must have been unloaded this long before a landing, s.
LEAST_FLIGHT_S = 0.10
#: A landing is believed when it reaches this share of body weight, or has held for HELD_S.
SURE_BW = 0.25
HELD_S = 0.015
#: Forward speed of the body (m/s) from which a landing is told at once; the report decides later.
TOLD_SPEED_MPS = 1.2
#: The drive leg must have borne this share of body weight shortly before.
DRIVE_BW = 0.5


class LandingWatch:
    """Follows the lead side's load through ``online``, the feet model's rows frame by frame."""

    def __init__(self, online: Ring, rate_hz: float, settings: Settings) -> None:
        self._online = online
        self._rate = rate_hz
        self._contact_bw = settings.contact_bw
        #: Frames before this one have been looked at, or need no look.
        self.looked_to = online.end
        self.restart()

    def restart(self) -> None:
        """Forget what was seen: a foot that is up now has only just left."""
        self._air_since: int | None = None
        self._rising: int | None = None

    def look(self, end: int, stance: Stance, zero: Zero, row: Row | None) -> LandingSeen | None:
        """Look at frames up to ``end``; return a landing with forward speed out of ``stance``.

        ``zero`` is the one at the stance. A whole ``row`` may be cleared by
        its extremes alone.
        """
        start, self.looked_to = self.looked_to, end
        if start >= end:
            return None
        threshold = self._contact_bw * stance.load
        if row is not None and row.start == start and self._rising is None:
            if row.lead_high - zero.lead_z < threshold:
                if self._air_since is None:
                    self._air_since = start
                return None
            if row.lead_low - zero.lead_z >= threshold and self._air_since is None:
                return None
        lead = (self._online.view(start, end)[:, 1] - zero.lead_z).tolist()
        for frame, load in enumerate(lead, start):
            if self._lands(frame, load, threshold, stance):
                seen = self._judged(frame, threshold, stance, zero)
                if seen is not None:
                    return seen
        return None

    def _lands(self, frame: int, load: float, threshold: float, stance: Stance) -> bool:
        """Follow one frame of the lead side's load; true when a landing has become sure."""
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
        return held or load >= SURE_BW * stance.load

    def _judged(
        self, frame: int, threshold: float, stance: Stance, zero: Zero
    ) -> LandingSeen | None:
        """Return a sure landing if it belongs to a delivery; begin anew either way."""
        assert self._rising is not None
        contact = self._rising
        self.restart()
        first = max(self._online.first, contact - round(0.3 * self._rate))
        drive = self._online.view(first, contact)[:, 0] - zero.drive_z
        carried = bool((drive > DRIVE_BW * stance.load).any())
        if not carried or not self._forward_speed(contact, stance, zero) >= TOLD_SPEED_MPS:
            return None
        return LandingSeen(self._crossing(contact, threshold, zero), frame, stance.load, contact)

    def _forward_speed(self, contact: int, stance: Stance, zero: Zero) -> float:
        """Forward speed of the body at ``contact``, m/s, from the impulse since quiet standing."""
        start = max(self._online.first, stance.end - round(0.5 * self._rate))
        forward = self._online.view(start, contact)[:, 2:4].sum(axis=1)
        forward -= zero.drive_x + zero.lead_x
        lost = np.isnan(forward)
        if lost.any():  # the push may be in what never came: as little as none is no better guess
            at = np.arange(len(forward))
            forward = np.interp(at, at[~lost], forward[~lost])
        impulse = float(forward.sum()) / self._rate
        return impulse * STANDARD_GRAVITY / stance.load

    def _crossing(self, contact: int, threshold: float, zero: Zero) -> float:
        """Where the load crossed the threshold, up to the frame ``contact``."""
        around = self._online.view(contact - 1, contact + 1)[:, 1] - zero.lead_z
        before, after = around.tolist()
        if not before < threshold:
            return float(contact)
        return float(contact - 1 + (threshold - before) / (after - before))
