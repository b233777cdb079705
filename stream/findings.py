"""What the online detector finds, each with the frame at which it was found."""

from __future__ import annotations

import msgspec

from stream.stance import Stance
from stream.zero import Zero


class LandingSeen(msgspec.Struct, frozen=True):
    """The lead foot landed with forward speed at ``contact`` (interpolated); told at ``seen``.

    ``weight`` is the body weight by then (N), ``first`` the first loaded frame.
    """

    contact: float
    seen: int
    weight: float
    first: int

    @property
    def frame(self) -> int:
        """The frame at which this was found."""
        return self.seen


class MovementEnded(msgspec.Struct, frozen=True):
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

    @property
    def quiet(self) -> tuple[int, int]:
        """[First, last) sample of the window in which the pitcher stood quietly."""
        return self.stance.start - self.start, self.stance.end - self.start


class ZeroTaken(msgspec.Struct, frozen=True):
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
