"""What people are told of a mound's zero: who took it, and how it has moved since."""

from __future__ import annotations

from stream.checks.tare import Tare
from stream.checks.vigil import Vigil
from stream.findings import ZeroTaken
from stream.layout import Array
from stream.outputs import Output, ZeroLearnt, ZeroSet
from stream.zero import NO_ZERO, QUIET_S, STEP_WORTH_TELLING_N, Zero

FIRST_ZERO = "The empty deck's zero has been taken."


class ZeroAccount:
    """The account of one mound's zero.

    ``vertical`` (channels,) turns raw units into the whole deck's vertical
    force, N. ``reference`` is the zero taken on purpose, as the core uses it,
    None until there is one; ``taken`` says by whom and when, where that is
    known. ``vigil`` sees what the empty deck reads.
    """

    def __init__(
        self,
        source: str,
        vertical: Array,
        vigil: Vigil,
        reference: Zero | None = None,
        taken: Tare | None = None,
    ) -> None:
        self.reference = reference
        self.taken = taken
        self._source = source
        self._vertical = vertical
        self._vigil = vigil
        self._pending = reference is None
        self._asked_by: str | None = None
        self._laid_down_n = 0.0

    @property
    def whole_reference(self) -> Zero | None:
        """The reference, once it holds for every part of the deck that has a zero of its own."""
        return None if self._pending else self.reference

    def ask(self, by: str) -> None:
        """``by`` asked for a zero: the next one is taken on purpose."""
        self._pending, self._asked_by = True, by

    def learn(self, found: ZeroTaken, now_ns: int | None) -> list[Output]:
        """Take a zero that the detector found at host time ``now_ns``; return what is told."""
        if self.reference is None or self._pending:
            self._refer_to(found.zero, pending=found.pending)
            if self._asked_by is not None and not found.pending:
                values = tuple(found.zero.tare.tolist())
                return [self._set(Tare(self._asked_by, now_ns, QUIET_S, values))]
            first = found.before.kind == NO_ZERO
            return [ZeroLearnt(self._source, found.zero.frame, 0.0, FIRST_ZERO)] if first else []
        step = found.zero.load - found.before.load
        if abs(step) < STEP_WORTH_TELLING_N:
            return []
        self._laid_down_n += step
        self._vigil.forget_zero()
        load = found.zero.load - self.reference.load
        return [ZeroLearnt(self._source, found.zero.frame, load, zero_sentence(step, load))]

    def check_made(self, tare: Tare, zero: Zero | None) -> ZeroSet:
        """A set-up check took ``tare``, in force as ``zero`` where there is a feed."""
        if zero is not None:
            self._refer_to(zero, pending=False)
        self._pending = False
        return self._set(tare)

    def moved_n(self, present: Zero) -> float | None:
        """Return how much vertical force the whole deck reads too much at the zero taken, N.

        As seen on the empty deck last; before that, by the ``present`` zero.
        What came or went at one go is no drift but a thing, and is left out.
        """
        if self.reference is None:
            return None
        reading = self._vigil.empty_reading
        if reading is None:
            return present.load - self.reference.load - self._laid_down_n
        return float(self._vertical @ (reading - self.reference.tare)) - self._laid_down_n

    def _refer_to(self, zero: Zero, *, pending: bool) -> None:
        self.reference, self._pending, self._laid_down_n = zero, pending, 0.0
        self._vigil.forget_zero()

    def _set(self, tare: Tare) -> ZeroSet:
        self.taken, self._asked_by = tare, None
        return ZeroSet(self._source, tare)


def zero_sentence(step: float, load: float) -> str:
    """Say what the deck's zero did: ``step`` from the one before, ``load`` since it was taken."""
    if abs(load) < STEP_WORTH_TELLING_N:
        return f"The steady load of {abs(step):.0f} N is gone; the zero is back where it was taken."
    if step > 0:
        return (
            f"A steady load of {step:.0f} N was put on the deck; {load:.0f} N in all is taken out "
            "of the zero. Remove what lies there if it is in the way."
        )
    return f"{-step:.0f} N of steady load left the deck; {load:.0f} N is still taken out."
